"""What every test gets.

Responsible for no test leaving its logging to the next one, and for Ctrl-C reaching what tests
start; not for anything of a single test.
"""

import signal
from collections.abc import Iterator

import pytest
import structlog

# A shell's background jobs ignore Ctrl-C, and so would whatever a test starts and cuts off.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(autouse=True)
def _own_logging() -> Iterator[None]:
    """A command sets up logging on a stream that ends with its test."""
    yield
    structlog.reset_defaults()
