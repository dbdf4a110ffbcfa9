"""What every test gets.

Responsible for no test leaving its logging to the next one; not for anything of a single test.
"""

from collections.abc import Iterator

import pytest
import structlog


@pytest.fixture(autouse=True)
def _own_logging() -> Iterator[None]:
    """A command sets up logging on a stream that ends with its test."""
    yield
    structlog.reset_defaults()
