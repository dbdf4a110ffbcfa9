"""What one row in the table of faults is enough for: nothing else is to be written for it."""

from pathlib import Path
from textwrap import dedent, indent
from types import SimpleNamespace
from typing import Any, cast

import pytest

from controller.ports import Fault, Sensor
from hardware.bench.attach import FITTABLE, Bench, BenchFault
from hardware.bench.upsets import Deed, Part, Scene, forced, gone
from tests.helpers.whole_bench import whole_bench

MELTED_S = 1500.0
SENSORS = (
    *(Part.BATH_PROBE, Part.BOWL_PROBE, Part.GUARD_PROBE, Part.LEVEL, Part.SHAFT, Part.LOAD),
    *(Part.MAINS_LIVE, Part.CURRENT, Part.LID, Part.STOP),
)


def a_bench() -> Bench:
    """A whole bench, fitted with everything."""
    return whole_bench(FITTABLE)


def at_work() -> Bench:
    """Another whose chocolate has melted in a hot bath, heated since `MELTED_S`."""
    bench = a_bench()
    bench.swap_water(share=1.0, water_c=75.0)
    bench.devices.heater.drive(on=True, now_s=MELTED_S)
    return bench


def test_the_row_that_the_documents_show_works_once_it_stands_in_the_table() -> None:
    root = Path(__file__).resolve().parents[2]
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    shown = text.partition("<!-- fault -->")[2].partition("<!-- end -->")[0]
    row = "".join(line for line in shown.splitlines(keepends=True) if "```" not in line)
    table = (root / "hardware" / "bench" / "faults.py").read_text(encoding="utf-8")
    before, mark, after = table.partition("    # Broker\n")
    assert mark
    room: dict[str, Any] = {"__name__": "a_table"}
    exec(before + indent(dedent(row), "    ") + mark + after, room)  # noqa: S102 - our own text
    plant = a_bench().plant
    faults = room["Faults"](Scene(plant=plant, batch_kg=1.5, seed=1))
    faults.inject(room["BY_WORD"]["shaft-slipping"], 0.3)
    assert faults.altered(Part.SHAFT, 30.0) == pytest.approx(9.0)


@pytest.mark.parametrize("part", SENSORS)
def test_one_row_is_enough_to_break_any_sensor(part: Part) -> None:
    bench = at_work()
    sensor = sensors_of(bench)[part]
    assert sensor is not None
    assert sensor.read(MELTED_S).value > 0.1

    bench.inject(a_row(part, forced(0.0)))
    assert sensor.read(MELTED_S + 1.0).value == pytest.approx(0.0, abs=0.1)

    bench.inject(a_row(part, gone(Fault.NO_ANSWER)))
    assert sensor.read(MELTED_S + 2.0).fault is Fault.NO_ANSWER


def a_row(part: Part, deed: Deed) -> BenchFault:
    """A fault that the table does not have."""
    return cast("BenchFault", SimpleNamespace(acts={part: deed}, size=None, once=False))


def sensors_of(bench: Bench) -> dict[Part, Sensor | None]:
    """Every sensor of a bench by its part."""
    devices = bench.devices
    return {
        Part.BATH_PROBE: devices.bath,
        Part.BOWL_PROBE: devices.bowl,
        Part.GUARD_PROBE: bench.guard_probe,
        Part.LEVEL: devices.level,
        Part.SHAFT: devices.shaft,
        Part.LOAD: devices.load,
        Part.MAINS_LIVE: bench.mains_live,
        Part.CURRENT: devices.current,
        Part.LID: devices.lid,
        Part.STOP: devices.stop,
    }
