"""The records that the core is made of: frozen msgspec structs, and how one becomes the next.

Responsible for `replace` alone. A struct is made and replaced in C, where a frozen dataclass sets
field by field in Python, and a tick does little else.
"""

from typing import TYPE_CHECKING

__all__ = ["replace"]

if TYPE_CHECKING:  # the same call, and type checkers know the names and types of its changes
    from dataclasses import replace
else:
    from msgspec.structs import replace
