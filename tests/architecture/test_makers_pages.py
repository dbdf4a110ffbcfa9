"""The pages for makers: what they have people type is there, in the order in which it counts."""

import re
import shlex
from argparse import Namespace
from pathlib import Path

import pytest

from controller.commands.options import parser
from controller.commissioning.proofs import RULES, Step
from controller.core.profile import Kind
from hardware.bench.attach import attach
from hardware.bench.file_machine import FileMachine
from tests.helpers.kitchen_file import DRIVERS, README, typed_there

PAGES = sorted(README.parent.glob("*.md"))
ROW = re.compile(r"^\| (\d) \| `bainward ([^`]+)`(, and `bowl`)? \|.*\| (\d+) d \|$", re.MULTILINE)


def understood(words: list[str]) -> Namespace:
    """The command, as the command line takes it."""
    try:
        return parser().parse_args(words)
    except SystemExit:
        pytest.fail(f"the command line doesn't take: {shlex.join(words)}")


def typed(page: Path) -> list[list[str]]:
    """Each command of ours in a page's blocks, and each whole one in its words."""
    text = page.read_text(encoding="utf-8")
    found = []
    for block in re.findall(r"```sh\n(.*?)```", text, re.DOTALL):
        for line in block.replace("\\\n", " ").splitlines():
            words = shlex.split(line, comments=True)
            ours = [at for at, word in enumerate(words) if Path(word).name == "bainward"]
            if ours and words[: ours[0]] in ([], ["sudo"]):
                found.append(words[ours[0] + 1 :])
    spans = re.findall(r"`(?:sudo )?bainward ([^`]+)`", text)
    return found + [shlex.split(one) for one in spans if " --" in one]


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_the_command_line_takes_each_command_of_a_page_for_makers_as_it_stands(page: Path) -> None:
    commands = typed(page)
    assert commands
    for words in commands:
        understood(words)


def steps_in(commands: list[list[str]]) -> list[Step]:
    """Which steps they take, each once."""
    taken = []
    for words in commands:
        step = next(step for step in Step if words[: len(said(step))] == said(step))
        if step not in taken:
            taken.append(step)
    return taken


def said(step: Step) -> list[str]:
    """The step's command, before its options."""
    return RULES[step].words.split()


def test_the_page_has_a_maker_take_every_step_in_its_order_and_says_how_long_it_counts() -> None:
    rows = ROW.findall(README.read_text(encoding="utf-8").partition("## First time")[2])
    commands = []
    for number, (at, command, both, days) in enumerate(rows, 1):
        assert int(at) == number
        words = shlex.split(command)
        commands += [words, ["calibrate", "bowl"]] if both else [words]
        for step in steps_in(commands[-2:] if both else commands[-1:]):
            assert RULES[step].counts_d == int(days)
    assert steps_in(commands) == list(Step)


def test_the_way_on_the_bench_takes_every_step_in_its_order() -> None:
    assert steps_in(typed_there("way")) == list(Step)
    assert [words[0] for words in typed_there("beside")] == ["bench", "guard"]


def test_each_file_that_a_maker_is_to_write_is_served_by_the_bench(tmp_path: Path) -> None:
    (serve, _guard) = (understood(words) for words in typed_there("beside"))
    bench = attach(
        machine="reference",
        seed=1,
        kind=Kind.WATER,
        batch_kg=1.5,
        seed_share=0.0,
        fitted=frozenset(serve.fitted),
    )
    FileMachine(bench, tmp_path / serve.files).follow(0.0)
    named = re.findall(r"> (tree/[\w/-]+)`", DRIVERS.read_text(encoding="utf-8"))
    named += re.findall(r"`(tree/[\w/-]+)`", DRIVERS.read_text(encoding="utf-8"))
    assert {Path(one).name for one in named} == {"bath", "bowl", "guard", "cut-out", "stop-button"}
    for one in named:
        assert (tmp_path / one).is_file(), one
