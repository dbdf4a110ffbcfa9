"""The command `plan`: from words to the sheet.

Responsible for files, options and the local clock; not for any figure (controller.planning).
"""

import argparse
import math
import shlex
import sys
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

from controller.clock import wall_time
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.errors import AccessError, Exit, PlanError, UsageError
from controller.files.plan_file import PlanFile, load_plan_file
from controller.files.profile_file import load_profile, shipped_profiles
from controller.planning.hours import hour_text, wished_hour
from controller.planning.plan import Plan, carrying, machine_for, plan_of
from controller.planning.sheet import Hours, sheet
from controller.planning.wish import SCALARS, Wish, Words, piece_words, shell_words, wish_of
from controller.wiring import machine_meant

NOTHING = PlanFile(told={}, makes=(), orders={})


def plan(options: argparse.Namespace) -> Exit:
    """Print the sheet, and write it where that was asked for.

    Raises:
        BainwardError: words that make no sense, or a file that can't be used.
    """
    now = wall_time().astimezone()
    page = planned(options, now)
    sys.stdout.write(page)
    if options.sheet is not None:
        _write(options.sheet, page)
    return Exit.DONE


def planned(options: argparse.Namespace, now: datetime) -> str:
    """The sheet; `now` is local and knows its zone.

    Raises:
        BainwardError: as above.
    """
    file = NOTHING if options.file is None else load_plan_file(options.file)
    orders = {**file.orders, **_told(options, ("profile", "machine"))}
    machine = machine_meant(orders.get("machine")).machine
    wish = _wish(options, file, machine)
    profile = _profile(orders.get("profile"), wish, machine)
    plan = plan_of(wish, profile, machine_for(wish, machine), machine.batch_kg)
    hours = _hours(options, file, plan, now)
    named = shlex.quote(orders["profile"]) if "profile" in orders else ""
    return sheet(plan, hours, fahrenheit=options.units == "F", profile=named)


def _told(options: argparse.Namespace, keys: tuple[str, ...]) -> dict[str, str]:
    given = {key: getattr(options, key) for key in keys}
    return {key: value for key, value in given.items() if value is not None}


def _wish(options: argparse.Namespace, file: PlanFile, machine: Machine) -> Wish:
    """Read twice where there is a file, so that a fault is told of where it stands."""
    told = _told(options, SCALARS)
    if options.file is not None:
        try:
            wish_of({"batch": "1 kg", **file.told}, file.makes, machine)
        except ValueError as error:
            raise PlanError(f"{options.file.name}, {error}") from None
    try:
        made = [_make(option, text) for option, text in options.makes]
        return wish_of({**file.told, **told}, [*file.makes, *made], machine)
    except ValueError as error:
        raise UsageError(f"--{error}.".replace("?.", "?")) from None


def _make(option: str, text: str) -> tuple[str, Words]:
    name = option.removeprefix("--")
    try:
        words = piece_words(text) if option == "--pieces" else shell_words(text)
    except ValueError as error:
        raise ValueError(f"{name}: {error}") from None
    return f'{name} "{text}"', words


def _profile(name: str | None, wish: Wish, machine: Machine) -> Profile:
    """The one named, or the kind's. It is read for the machine's usual room: ours may forbid it."""
    seeded = f"{wish.kind}-seeded"
    name = name or (seeded if seeded in shipped_profiles() else str(wish.kind))
    profile = load_profile(name, carrying(wish, machine))
    if profile.kind is not wish.kind:
        raise UsageError(
            f"The profile {profile.name} is for {profile.kind} chocolate and the plan for "
            f"{wish.kind}; name another with --profile, or leave it out."
        )
    return profile


def _hours(options: argparse.Namespace, file: PlanFile, plan: Plan, now: datetime) -> Hours | None:
    told = _told(options, ("by", "ready_at")) or {
        key: value for key, value in file.orders.items() if key in {"by", "ready_at"}
    }
    if not told:
        return None
    return hours_of(told, plan, now)


def hours_of(told: Mapping[str, str], plan: Plan, now: datetime) -> Hours:
    """The hours at which to begin, on the local clock.

    Raises:
        UsageError: that is no hour to come.
    """
    key, text = next(iter(told.items()))
    try:
        meant = wished_hour(text, now.replace(tzinfo=None)).astimezone()
    except ValueError as error:
        raise UsageError(f"--{key.replace('_', '-')}: {error}.".replace("?.", "?")) from None
    is_done = key == "by"
    likely_s = plan.done_s if is_done else plan.course.ready_s
    late_s = plan.done_p90_s if is_done else plan.course.ready_p90_s
    wish = f"{'done' if is_done else 'ready'} by {hour_text(meant, now)}"
    if not math.isfinite(late_s):
        return Hours(wish=wish, sure="", even="", at=lambda _: "")
    sure = _later(meant, -late_s)
    late = ""
    if sure < now:
        late = (
            f"Too late to be {wish} nine times in ten: that had to begin at "
            f"{hour_text(sure, now)}. Begun now, it is likely at "
            f"{hour_text(_later(now, likely_s), now)}, nine times in ten by "
            f"{hour_text(_later(now, late_s), now)}."
        )
    begins, day = max(sure, now), now if late else meant
    return Hours(
        wish=wish,
        sure=hour_text(sure, day),
        even=hour_text(_later(meant, -likely_s), day),
        at=lambda run_s: hour_text(_later(begins, run_s), day),
        late=late,
    )


def _later(moment: datetime, seconds: float) -> datetime:
    """So much later, on a clock that may have changed to summer time in between."""
    return (moment + timedelta(seconds=seconds)).astimezone()


def _write(path: Path, page: str) -> None:
    """Whole or not at all: what stood there before is lost only to a whole page."""
    beside = path.with_name(f"{path.name}.part")
    try:
        beside.write_text(page, encoding="utf-8")
        beside.replace(path)
    except OSError as error:
        with suppress(OSError):
            beside.unlink()
        raise AccessError(
            f"The sheet {path} can't be written ({error.strerror}); name another with --sheet."
        ) from error
