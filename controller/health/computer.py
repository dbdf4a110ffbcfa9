"""Checks of the computer: outputs that outlive a process, clock, disk, memory, foreign packages.

Responsible for what is asked and said; limits are the self-watch's (core/self_rows).
"""

import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from controller.commissioning.proof_file import proofs_path
from controller.core.records import replace
from controller.core.self_rows import refusals
from controller.health.finding import Findings, Place, fault, joined, remark
from controller.health.service import service_there
from controller.wiring import SelfWatch, persisting_outputs

OURS = ("controller", "hardware", "profiles")
SUFFIX = ".jsonl"
SLACK = timedelta(days=1)  # between two computers' clocks: own engineering value


def outputs(place: Place) -> Findings:
    """Whether the kernel keeps a dead process's lines driven."""
    if (advice := persisting_outputs(place.root)) is not None:
        yield fault(advice)


def time_of_day(place: Place) -> Findings:
    """Whether the clock can be believed; control needs none, dates do."""
    newest, written = _newest(place)
    if newest is not None and written > place.now + SLACK:
        yield fault(
            f"This computer's clock says {place.now:%Y-%m-%d}, and {newest} was written on "
            f"{written:%Y-%m-%d}: set the clock, or proofs and records are dated wrongly."
        )
    if not place.is_synchronised():
        yield remark(
            "This computer's clock is held to no time server, so that after a power cut nobody "
            "knows how long it was: install chrony or systemd-timesyncd, or fit a clock chip."
        )


def room(place: Place) -> Findings:
    """Whether disk and memory have room for a run."""
    vitals = replace(SelfWatch(place.sources).look(), late_s=0.0)
    for row in refusals(vitals):
        yield fault(joined(row.says(vitals), row.action))
    if not place.records.is_dir():
        return  # a first run makes it
    if not _has_user(place) and not os.access(place.records, os.W_OK):
        yield fault(
            f"Records can't be written to {place.records}, and no run starts without one: give the "
            "folder to this user, or call this as the service's own."
        )
    with suppress(OSError):
        if os.statvfs(place.records).f_flag & os.ST_RDONLY:
            yield fault(
                f"The disk of {place.records} can only be read, as after an error: look at the "
                "kernel's log (dmesg), replace the card, and put the records back from a copy."
            )


def _has_user(place: Place) -> bool:
    """Whether runs are a user's own, so that it matters little what we may write."""
    meant = service_there(place)
    return meant is not None and meant.user is not None


def packages(place: Place) -> Findings:
    """Whether another distribution owns one of our import names."""
    for says in foreign_packages(place.owners()):
        yield fault(says)


def foreign_packages(owners: Mapping[str, list[str]]) -> Iterator[str]:
    """A sentence for each distribution that owns one of our import names, which are generic."""
    for name in OURS:
        for other in sorted(set(owners.get(name, ())) - {"bainward"}):
            yield (
                f"The package {other} also installs a module named {name!r}, which bainward needs "
                "for itself: install bainward in a virtual environment of its own."
            )


def _newest(place: Place) -> tuple[Path | None, datetime]:
    """The file written last, and when, of those that bear a date."""
    with suppress(OSError):
        files = [place.path, proofs_path(place.path)]
        if place.records.is_dir():
            files += [path for path in place.records.iterdir() if path.suffix == SUFFIX]
        dated = [(path.stat().st_mtime, path) for path in files if path.exists()]
        written_s, path = max(dated)
        return path, datetime.fromtimestamp(written_s, UTC)
    return None, datetime.min.replace(tzinfo=UTC)
