"""Brokers for acceptance tests.

Responsible for real brokers and for saying loudly when there is none; not for any test.
"""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.helpers.brokers import Broker, Embedded, Mosquitto
from tests.helpers.secured import Secured

SBIN = "/usr/sbin/mosquitto"  # Debian puts it where a plain user's PATH doesn't look


@pytest.fixture(scope="session")
def executable() -> str:
    """Where mosquitto is; without it the test is skipped loudly, or fails in CI."""
    executable = shutil.which("mosquitto") or shutil.which(SBIN)
    if executable is None:
        why = "there is no mosquitto on this machine: install it (apt install mosquitto)"
        if os.environ.get("BAINWARD_REQUIRE_MOSQUITTO") == "1":
            pytest.fail(why)
        pytest.skip(f"NOT TESTED AGAINST A REAL BROKER: {why}")
    return executable


@pytest.fixture
def secured(executable: str) -> Iterator[Secured]:
    """A running mosquitto with the shipped configuration, on free loopback ports."""
    broker = Secured(executable)
    broker.start()
    yield broker
    broker.kill()


@pytest.fixture
def mosquitto(executable: str, tmp_path: Path) -> Iterator[Mosquitto]:
    """A running mosquitto on a free loopback port."""
    broker = Mosquitto(executable, tmp_path)
    broker.start()
    yield broker
    broker.kill()


@pytest.fixture
def embedded() -> Iterator[Embedded]:
    """A running embedded broker on a free loopback port."""
    broker = Embedded()
    broker.start()
    yield broker
    broker.kill()


@pytest.fixture(
    params=[pytest.param("mosquitto", marks=pytest.mark.mosquitto), "embedded"],
)
def broker(request: pytest.FixtureRequest) -> Broker:
    """Each broker in turn."""
    made: Broker = request.getfixturevalue(request.param)
    return made
