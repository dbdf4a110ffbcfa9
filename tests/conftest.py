"""What every test gets.

Responsible for no test leaving its logging to the next one, for Ctrl-C reaching what tests start,
and for which tests count as covering; not for anything of a single test.
"""

import os
import signal
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest
import structlog

# A shell's background jobs ignore Ctrl-C, and so would whatever a test starts and cuts off.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)


# Whole runs of simulated hours reach nearly every line and hold few of them; and counting lines
# makes them several times slower. So only the quick tests count as covering what they reach.
COVERING = tuple(Path(__file__).parent / name for name in ("unit", "conformance"))


def pytest_configure(config: pytest.Config) -> None:
    """What CI asks of this session is not meant for a pytest that a test starts."""
    if hasattr(config, "workerinput") or not config.getoption("numprocesses", None):
        os.environ.pop("PYTEST_ADDOPTS", None)  # its workers are asked the same


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """Count no lines while a test runs that does not cover, nor while its fixtures do."""
    plugin = item.config.pluginmanager.get_plugin("_cov")
    counter = None if plugin is None else plugin.cov_controller
    if counter is None or any(item.path.is_relative_to(folder) for folder in COVERING):
        return (yield)
    counter.pause()
    try:
        return (yield)
    finally:
        counter.resume()


@pytest.fixture(autouse=True)
def _own_logging() -> Iterator[None]:
    """A command sets up logging on a stream that ends with its test."""
    yield
    structlog.reset_defaults()
