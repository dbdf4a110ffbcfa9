"""A stirrer's speed through the kernel's files of a PWM output.

Responsible for the files, their order and what can't be had; not for which speed is right.
"""

import math
from pathlib import Path

import pytest

from hardware.linux.errors import AttachError
from hardware.linux.pwm import PwmPlan, PwmStirrer
from tests.helpers.records import replace

PLAN = PwmPlan(path="/sys/class/pwm/pwmchip0/pwm1", period_s=0.001, full_rpm=60.0)
FILES = ("period", "duty_cycle", "enable")


@pytest.fixture
def output(tmp_path: Path) -> Path:
    """An output as it is after it was exported: all 0."""
    folder = tmp_path / "sys/class/pwm/pwmchip0/pwm1"
    folder.mkdir(parents=True)
    for name in FILES:
        (folder / name).write_text("0\n")
    return folder


def held(folder: Path) -> tuple[int, ...]:
    """Period, duty and whether it is enabled."""
    return tuple(int((folder / name).read_text()) for name in FILES)


def test_it_stands_enabled_with_a_duty_of_nothing_until_told(tmp_path: Path, output: Path) -> None:
    PwmStirrer(PLAN, tmp_path)
    assert held(output) == (1_000_000, 0, 1)


@pytest.mark.parametrize(
    ("rpm", "duty_ns"),
    [
        (30.0, 500_000),
        (60.0, 1_000_000),
        (90.0, 1_000_000),
        (0.0, 0),
        (-30.0, 0),
        (math.nan, 0),
        (math.inf, 0),
    ],
)
def test_its_speed_is_a_share_of_full_and_never_more(
    tmp_path: Path, output: Path, rpm: float, duty_ns: int
) -> None:
    stirrer = PwmStirrer(PLAN, tmp_path)
    stirrer.drive(rpm=rpm, now_s=0.0)
    assert held(output) == (1_000_000, duty_ns, 1)
    stirrer.close()
    assert held(output) == (1_000_000, 0, 1)


def test_what_turned_before_stands_before_its_period_is_changed(
    tmp_path: Path, output: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (output / "period").write_text("20000000\n")
    (output / "duty_cycle").write_text("15000000\n")
    written: list[str] = []
    write = Path.write_text

    def noted(path: Path, text: str, encoding: str | None = None) -> int:
        written.append(f"{path.name} {text.strip()}")
        return write(path, text, encoding=encoding)

    monkeypatch.setattr(Path, "write_text", noted)
    PwmStirrer(PLAN, tmp_path)
    assert written[:2] == ["duty_cycle 0", "period 1000000"]
    assert written[-1] == "enable 1"


def test_an_output_that_the_chip_does_not_show_yet_is_asked_for(tmp_path: Path) -> None:
    chip = tmp_path / "sys/class/pwm/pwmchip0"
    chip.mkdir(parents=True)
    with pytest.raises(AttachError, match="gives no output pwm1; see which it has"):
        PwmStirrer(PLAN, tmp_path)
    assert (chip / "export").read_text() == "1"


def test_a_chip_is_found_under_any_number_and_never_guessed(tmp_path: Path, output: Path) -> None:
    plan = replace(PLAN, path="/sys/class/pwm/pwmchip*/pwm1")
    PwmStirrer(plan, tmp_path).drive(rpm=60.0, now_s=0.0)
    assert held(output)[1] == 1_000_000
    (tmp_path / "sys/class/pwm/pwmchip4").mkdir()
    with pytest.raises(AttachError, match="no PWM chip, or more than one"):
        PwmStirrer(plan, tmp_path)
    with pytest.raises(AttachError, match="no PWM chip, or more than one"):
        PwmStirrer(replace(PLAN, path="/sys/class/pwm/pwmchip9/pwm0"), tmp_path)


def test_files_that_may_not_be_written_are_refused_at_the_start(
    tmp_path: Path, output: Path
) -> None:
    (output / "period").unlink()
    (output / "period").mkdir()
    with pytest.raises(AttachError, match="can't be set"):
        PwmStirrer(PLAN, tmp_path)


def test_an_output_that_is_gone_is_an_error_and_not_silence(tmp_path: Path, output: Path) -> None:
    stirrer = PwmStirrer(PLAN, tmp_path)
    output.rename(tmp_path / "away")
    with pytest.raises(OSError, match="No such file"):
        stirrer.drive(rpm=30.0, now_s=0.0)
