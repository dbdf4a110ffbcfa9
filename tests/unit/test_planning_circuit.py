"""The circuit and the parts by kind: every wall of the safety chain is in them, in its order."""

import re
from itertools import pairwise
from pathlib import Path

from controller.commands.advising import bill
from controller.commands.main import main
from controller.errors import Exit
from controller.guard.chain import CHAIN, SOFTWARE
from controller.planning import circuit
from controller.planning.circuit import BILL, ELEMENT, LOW, MAINS, SIGNALS, Need

DOCUMENT = Path(__file__).resolve().parents[2] / "hardware" / "README.md"
NAMES = [part.node for part in MAINS]


def test_every_wall_of_the_safety_chain_that_is_a_part_is_in_series_with_the_element() -> None:
    walls = {link.node for link in CHAIN[SOFTWARE:]} - {"hardware watchdog"}  # the board's own
    assert walls == {"thermal cut-out", "thermal fuse", "residual-current device"}
    assert walls <= set(NAMES)


def test_the_thermal_fuse_is_the_last_before_the_element_and_the_device_the_first() -> None:
    assert NAMES[0] == "residual-current device"
    assert NAMES[-1] == "thermal fuse"
    drawn = circuit.mains_drawing()
    assert drawn.index("first switch") < drawn.index("second switch") < drawn.index(ELEMENT.node)


def test_the_drawing_joins_each_part_to_the_next_and_leaves_none_out() -> None:
    drawn = circuit.mains_drawing()
    boxes = re.findall(r"m(\d+)\[", drawn)
    arrows = re.findall(r"m(\d+) --> m(\d+)", drawn)
    assert boxes == [str(index) for index in range(len(MAINS) + 3)]
    assert arrows == list(pairwise(boxes))


def test_what_must_stop_a_hand_or_the_heat_needs_no_program() -> None:
    itself = {(one, two) for one, two, what in SIGNALS if what.endswith("by itself")}
    supply = "supply of both switches' inputs"
    # `bainward prove` has the stop button pressed, and sees that the element is dead.
    assert itself == {
        ("lid switch", "stirrer"),
        ("stop button", "stirrer"),
        ("stop button", supply),
        ("level switch", supply),
    }
    for switch in ("first switch", "second switch"):
        assert (supply, switch, "feeds") in SIGNALS


def test_no_switch_is_driven_but_by_the_guard() -> None:
    for one, two, what in SIGNALS:
        if two in {"first switch", "second switch"} and what != "feeds":
            assert one == "guard's program"


def test_what_may_be_left_out_is_what_sees_and_never_what_cuts() -> None:
    assert all(part.need is Need.MUST for part in (*MAINS, ELEMENT))
    assert {part.need for part in LOW} == set(Need)


def test_no_part_is_listed_twice_and_each_says_what_it_is_against() -> None:
    assert len({part.node for part in BILL}) == len(BILL)
    assert all(part.look_for and part.danger for part in BILL)


def test_the_bill_is_printed_after_the_caution_that_comes_first() -> None:
    text = bill()
    assert text.startswith("DANGER: mains beside hot water.")
    assert all(f"- {part.node} ({part.how_many}, {part.need})" in text for part in BILL)
    assert all(len(line) <= 78 for line in text.splitlines())
    assert main(["parts", "--bill"]) == Exit.DONE


def test_a_danger_stands_where_a_maker_meets_it() -> None:
    text = DOCUMENT.read_text(encoding="utf-8")
    for heading in ("The circuit", "Heater", "Thermometers", "Stirrer", "Modbus boards"):
        section = text.partition(f"\n## {heading}\n")[2].partition("\n## ")[0]
        assert "**Danger: " in section[:700], heading
