"""`replace` for tests, which change dataclasses and the core's structs side by side.

Responsible for that one call; `copy.replace` of Python 3.13 does the same.
"""

import dataclasses
from typing import TYPE_CHECKING, Any

import msgspec

__all__ = ["replace"]

if TYPE_CHECKING:  # type checkers know the names and types of its changes
    from dataclasses import replace
else:

    def replace(record: Any, /, **changes: Any) -> Any:  # noqa: ANN401 - whatever it is given
        """The same record with `changes`."""
        if isinstance(record, msgspec.Struct):
            return msgspec.structs.replace(record, **changes)
        return dataclasses.replace(record, **changes)
