"""What is printed when a sweep is over."""

import math

from controller.report.table import Row
from controller.trials.sweep_summary import replay_text, sweep_text, worst
from controller.trials.sweep_table import filled
from tests.helpers import sweeping


def row(number: int, end: str = "done", **cells: str | float) -> Row:
    """A machine's row."""
    return {
        "machine": f"drawn-1-{number}",
        "exit": end,
        "trip": "",
        "ready_s": 60.0 * number,
        "form_v": 0.01 * number,
        "failure": "",
        **cells,
    }


def test_the_summary_gives_percentiles_and_the_worst_by_name() -> None:
    rows = [row(number) for number in range(1, 102)]
    text = sweep_text(rows, sweeping.work(profile="dark"), fahrenheit=False)
    lines = [line.split() for line in text.splitlines()]
    assert text.startswith("dark on 101 machines of seed 1: 101 done\n")
    assert ["p5", "p50", "p95", "worst"] in lines
    # 1 to 101 minutes: a twentieth of a hundred steps is five.
    assert ["ready", "0:06:00", "0:51:00", "1:36:00", "1:41:00", "drawn-1-101"] in lines
    assert "Worst:" not in text


def test_of_form_v_the_least_is_the_worst() -> None:
    text = sweep_text([row(3), row(2), row(4)], sweeping.work(), fahrenheit=False)
    line = next(line for line in text.splitlines() if line.startswith("form v"))
    assert line.endswith("0.0200  drawn-1-2")


def test_a_figure_that_is_nought_for_all_takes_no_line() -> None:
    rows = [row(1, unstable=0.0), row(2, unstable=0.0)]
    assert "unstable" not in sweep_text(rows, sweeping.work(), fahrenheit=False)


def test_machines_without_a_figure_are_counted_beside_it() -> None:
    rows = [row(1), row(2, "tripped", ready_s=math.nan, trip="bath-too-hot"), row(3)]
    text = sweep_text(rows, sweeping.work(), fahrenheit=False)
    line = next(line for line in text.splitlines() if line.startswith("ready"))
    assert line.endswith("0:03:00  drawn-1-3  (1 without)")


def test_the_worst_come_failed_first_then_tripped_stopped_and_out_of_temper() -> None:
    ends = ("done", "not-in-temper", "stopped", "tripped", "failed", "tripped", "not-in-temper")
    rows = [row(number, end) for number, end in enumerate(ends)]
    assert [found["machine"] for found in worst(rows)] == [
        "drawn-1-4",
        "drawn-1-3",
        "drawn-1-5",
        "drawn-1-2",
        "drawn-1-1",
    ]


def test_the_worst_are_told_with_their_reason_and_how_to_run_one_alone() -> None:
    rows = filled(
        [
            row(1),
            row(2, "tripped", trip="bath-too-hot"),
            {"machine": "drawn-1-3", "exit": "failed", "failure": "ValueError: no bowl"},
        ]
    )
    text = sweep_text(rows, sweeping.work(faults=("heater-dead@melt",)), fahrenheit=False)
    assert "of seed 1, with heater-dead@melt: 1 done, 1 tripped, 1 failed\n" in text
    assert "  drawn-1-3  failed: ValueError: no bowl\n" in text
    assert "  drawn-1-2  tripped: bath-too-hot\n" in text
    assert text.endswith(
        "One alone: bainward try water-trial --machine drawn-1-3 --fault heater-dead@melt\n"
    )


def test_the_command_for_one_alone_can_be_pasted_into_a_shell() -> None:
    work = sweeping.work(profile="my profiles/a.toml", profile_text="")
    assert replay_text("drawn-1-2", work) == (
        "bainward try 'my profiles/a.toml' --machine drawn-1-2"
    )


def test_a_sweep_in_which_everything_failed_still_has_a_summary() -> None:
    rows: list[Row] = [{"machine": "drawn-1-1", "exit": "failed", "failure": "ValueError: no"}]
    text = sweep_text(rows, sweeping.work(), fahrenheit=False)
    assert text.startswith("water-trial on 1 machine of seed 1: 1 failed\n\nWorst:\n")
