"""The command `demo`: scenes on the bench, for whoever wants to see before they build.

Responsible for choosing the scene and for the trap's table; not for the afternoon's story
(demo_batch) or for what happens (trials).
"""

import argparse
import secrets
import sys
from pathlib import Path

from controller.clock import wall_time
from controller.commands.booking import check_page
from controller.commands.demo_batch import PROFILE, play
from controller.commands.places import made, state_folder
from controller.core.scales import retold
from controller.core.words import mass_text, shown_temperature
from controller.errors import Exit, UsageError
from controller.report.compare_layout import Line, columns_text
from controller.trials.trap import AT_ONCE, HELD_BACK, Fate, seeded

PERCENT = 100.0
NOTHING = "-"


def demo(options: argparse.Namespace) -> Exit:
    """Play the scene.

    Raises:
        BainwardError: an option has no use here, the records can't be written, or the program
            failed.
    """
    if options.scene == "trap" and (options.open or options.page is not None):
        raise UsageError("The trap is a table and has no page; leave --page and --open out.")
    if options.page is not None:
        check_page(options.page)
    folder, fahrenheit = made(options.journal_dir or state_folder() / "tries"), options.units == "F"
    if options.scene == "trap":
        return _trap(folder, fahrenheit=fahrenheit)
    record = record_for(folder, PROFILE)
    page = options.page or record.with_suffix(".html")
    return play(record, page, is_open=options.open, fahrenheit=fahrenheit)


def record_for(folder: Path, name: str) -> Path:
    """Where a run of that name that begins now is written down."""
    return folder / f"{wall_time():%Y%m%dT%H%M%SZ}-{name}-{secrets.token_hex(2)}.jsonl"


def _trap(folder: Path, *, fahrenheit: bool) -> Exit:
    """Both ways of giving the same seed, side by side."""
    sys.stdout.write(
        "Dark chocolate with 10 % of seed, stirred in while the bath is still warm, twice on the\n"
        "bench. All that differs is when the last third of the seed goes in.\n\n"
    )
    sys.stdout.flush()
    began = wall_time().isoformat(timespec="seconds")
    fates = [
        seeded(name, record_for(folder, name), began_utc=began) for name in (AT_ONCE, HELD_BACK)
    ]
    sys.stdout.write(columns_text(_sides(*fates, fahrenheit=fahrenheit)))
    moral = (
        "\nWarm chocolate melts seed whole, and with it all the crystals it brought. What goes in\n"
        "below 33.8 °C (92.8 °F), where good crystals melt, stays solid in part, and they grow.\n"
        f"More of it: bainward compare {fates[0].record} {fates[1].record}\n"
    )
    sys.stdout.write(retold(moral, fahrenheit=fahrenheit))
    return Exit.DONE


def _sides(once: Fate, back: Fate, *, fahrenheit: bool) -> list[Line]:
    def shown(value_c: float) -> str:
        return shown_temperature(value_c, fahrenheit=fahrenheit)

    def row(label: str, *cells: str) -> Line:
        return (label, *cells)

    first, (early, late) = once.portions[0], back.portions
    return [
        row("", "all at once", "last third held back"),
        row("Seed at first", mass_text(first.mass_kg), mass_text(early.mass_kg)),
        row("  bowl before", shown(first.bowl_c), shown(early.bowl_c)),
        row("  ten minutes later", shown(first.later_c), shown(early.later_c)),
        row("Seed held back", NOTHING, mass_text(late.mass_kg)),
        row("  bowl before", NOTHING, shown(late.bowl_c)),
        row("  ten minutes later", NOTHING, shown(late.later_c)),
        row("Good crystals at the end", *(_share(one) for one in (once, back))),
        row("  wanted", "0.5 to 4 %", "0.5 to 4 %"),
        row("Set test", *(one.set_test.replace("-", " ") for one in (once, back))),
        row("So it is", *(one.truth.verdict.replace("-", " ") for one in (once, back))),
    ]


def _share(fate: Fate) -> str:
    return f"{PERCENT * fate.truth.form_v:.2f} % of the fat"
