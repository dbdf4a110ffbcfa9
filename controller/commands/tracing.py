"""What a run asks before it begins: what was last in the machine, and who stays with it.

Responsible for asking and for keeping the answer; not for what allergens are (book/traces).
"""

import argparse
from pathlib import Path
from typing import TextIO

import msgspec

from controller.book.notes import Notes, change_notes
from controller.book.traces import (
    OF_KIND,
    Last,
    left_behind,
    remember,
    sorted_allergens,
)
from controller.commands.booking import allergens, sentence
from controller.core.profile import Kind, Profile
from controller.errors import StoppedError, UsageError
from controller.journal.records import Identity
from controller.report.words import duration_text, wall_text

BENCH = (
    "This machine is simulated on the bench, and takes as long as a real one. "
    "`bainward try` takes seconds."
)
WASHED, ACCEPTED = "washed", "accepted"


class Product(msgspec.Struct, frozen=True, kw_only=True):
    """What is going to be in the machine."""

    kind: Kind
    contains: tuple[str, ...]
    traces: tuple[str, ...]  # what the machine may bring along


def product_of(
    options: argparse.Namespace,
    profile: Profile,
    last: Last | None,
    person: TextIO | None,
    shown: TextIO,
) -> Product:
    """What goes into the bowl; where the last product leaves traces, once somebody has said so.

    Raises:
        UsageError: an option can't be meant.
        StoppedError: traces are left, and nobody has acknowledged them.
    """
    kind = _kind(options.chocolate, profile)
    contains = _contains(options.contains, kind)
    if kind is Kind.WATER:
        return Product(kind=kind, contains=(), traces=())
    left = () if options.traces == WASHED else left_behind(last, contains)
    if left and last is not None and options.traces != ACCEPTED:
        left = _asked(left, last, person, shown)
    return Product(kind=kind, contains=contains, traces=left)


def keep(
    record: Path, who: Identity, profile: Profile, machine: str, memory: Path, product: Product
) -> None:
    """Remember what is in the machine now, and put it into the run's notes.

    Raises:
        AccessError: it can't be written, and so no run begins.
    """
    if product.kind is Kind.WATER:
        return
    remember(
        memory,
        Last(
            machine=machine,
            run_id=who.run_id,
            began_utc=who.began_utc,
            title=f"{product.kind} ({profile.title})",
            carries=sorted_allergens(product.contains, product.traces),
        ),
    )

    def change(notes: Notes) -> Notes:
        return msgspec.structs.replace(
            notes, chocolate=product.kind.value, contains=product.contains, traces=product.traces
        )

    change_notes(record, change)


def attending_text(profile: Profile, *, is_bench: bool = False) -> str:
    """Who must be where, and what silence does; for whom no machine is heated, that as well."""
    lines = ["Somebody stays with a heated machine, within hearing, from the start to the end."]
    asks = [(phase.name, one) for phase in profile.phases for one in phase.questions]
    if asks:
        named = ", ".join(f"{one.id} in {phase}" for phase, one in asks)
        lines.append(f"You will be asked: {named}.")
        lines.append("Without an answer the run waits, the bowl kept warm and stirred.")
    for _, one in asks:
        if one.unanswered_s is not None:
            after = duration_text(one.unanswered_s)
            lines.append(f"But {one.id} takes {one.unanswered} after {after} of silence.")
    if is_bench:
        lines.append(BENCH)
    return "\n".join(lines) + "\n"


def _kind(chocolate: str | None, profile: Profile) -> Kind:
    if chocolate is None or chocolate == profile.kind:
        return profile.kind
    if profile.kind is Kind.WATER or profile.aims_at_temper or profile.kind is Kind.COMPOUND:
        raise UsageError(
            f"--chocolate {chocolate}: profile {profile.name} is for {profile.kind}; "
            "take a profile of that kind, or leave it out."
        )
    return Kind(chocolate)


def _contains(told: str | None, kind: Kind) -> tuple[str, ...]:
    try:
        more = () if told is None else allergens(told)
    except ValueError as error:
        raise UsageError(sentence(f"--contains: {error}")) from error
    return sorted_allergens(OF_KIND.get(kind, ()), more)


def _asked(
    left: tuple[str, ...], last: Last, person: TextIO | None, shown: TextIO
) -> tuple[str, ...]:
    """Have somebody say what became of the traces; those that stay come back."""
    warning = (
        f"Last in this machine: {last.title}, {wall_text(last.began_utc)}. It leaves traces of "
        f"{' and '.join(left)}, which this batch does not contain. Somebody with an allergy could "
        "be harmed."
    )
    if person is None:
        raise StoppedError(
            f"{warning} Wash and dry bowl, stirrer and thermometer and say --traces washed, "
            "or --traces accepted and label the batch so."
        )
    shown.write(f"{warning}\nType {WASHED} once bowl, stirrer and thermometer are washed and dry, ")
    shown.write(f"{ACCEPTED} to go on and label it so, or just Enter to leave: ")
    shown.flush()
    word = person.readline().strip().casefold()
    if word == WASHED:
        return ()
    if word == ACCEPTED:
        return left
    raise StoppedError("Nothing was begun: wash the machine first, or accept its traces.")
