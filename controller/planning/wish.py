"""What is wished for, from the words of options or of a plan file; absurd or mixed-up is refused.

Responsible for reading words into one `Wish` and for what contradicts itself; not for where the
words stand (files, commands) or for what follows from them (plan).
"""

import difflib
import math
import re
from collections.abc import Callable, Mapping, Sequence

from msgspec import Struct

from controller.core.machine import Machine
from controller.core.profile import Kind
from controller.planning import quantities as q
from controller.planning.air import standard_hpa
from controller.planning.amounts import (
    DIP_KG,
    Use,
    batch_kg,
    coating,
    cylinder_m3,
    ellipsoid_m3,
    shells,
)

Words = Mapping[str, str]

# What is assumed where nothing is said: own choices, and the sheet says which were made.
HUMIDITY, FRIDGE_C = 0.5, 6.0
MOST_ROUNDS = (
    4  # of the machine's own batch: more in one go is a slip, or wants a machine of its own
)
PRESSURES_AGREE = 0.04  # weather moves it by less: beyond, one of the two is mistaken

SCALARS = (
    *("chocolate", "fat", "batch", "left", "room", "humidity", "altitude", "pressure"),
    *("tap", "seed", "fridge", "work"),
)
PIECE_KEYS = ("name", "count", "centre", "coating")
SHELL_KEYS = ("name", "count", "shape", "size", "wall", "at_once")

_PIECES = re.compile(
    r"(?:(?P<name>[^:]{1,40}):)?\s*(?P<count>[^\sx\u00d7]+)\s*[x\u00d7]\s*(?P<centre>.+?)\s+(?:at|with)\s+"
    r"(?P<coating>.+)"
)
_SHELL = re.compile(
    r"(?:(?P<name>[^:]{1,40}):)?\s*(?:(?P<count>\S+)\s*[x\u00d7]\s+)?(?P<shape>[A-Za-z]+)\s+"
    r"(?P<size>[^,]+(?:,\d[^,]*)*),\s*wall\s+(?P<wall>.+?)(?:,\s*(?P<at_once>\S+)\s+at once)?"
)
PIECES_EXAMPLE = "48 x 8 g at 40 %", "number, one centre, the chocolate's part of a finished piece"
SHELL_EXAMPLE = (
    "egg 160 x 110 mm, wall 3 mm",
    "shape, its sizes inside the mould, the wall's thickness",
)

# Each shape: how many sizes it has, and the volume of its cavity or inside by sizes less the wall.
_Volume = Callable[[Sequence[float], float], float]
SHAPES: dict[str, tuple[int, _Volume]] = {
    "sphere": (1, lambda size, wall: ellipsoid_m3(size[0] - 2 * wall, size[0] - 2 * wall)),
    "egg": (2, lambda size, wall: ellipsoid_m3(size[0] - 2 * wall, size[1] - 2 * wall)),
    "dome": (1, lambda size, wall: ellipsoid_m3(size[0] - 2 * wall, size[0] - 2 * wall) / 2.0),
    "cup": (2, lambda size, wall: cylinder_m3(size[0] - 2 * wall, size[1] - wall)),
}


class Wish(Struct, frozen=True, kw_only=True):
    """What the plan is for."""

    kind: Kind
    fat: float | None  # share of fat, where it was told
    uses: tuple[Use, ...]  # in the order of use
    batch_kg: float | None
    room_c: float
    humidity: float
    pressure_hpa: float
    altitude_m: float | None
    tap_c: float
    seed_c: float
    fridge_c: float
    work_s: float | None  # of hands, where it was told
    assumed: tuple[str, ...]  # what was not told


def piece_words(text: str) -> Words:
    """`NAME: 48 x 8 g at 40 %` by its keys. ValueError as in `wish_of`."""
    return _matched(_PIECES, text, PIECES_EXAMPLE)


def shell_words(text: str) -> Words:
    """`NAME: 2 x egg 160 x 110 mm, wall 3 mm, 1 at once` by its keys. ValueError as above."""
    return _matched(_SHELL, text, SHELL_EXAMPLE)


def wish_of(told: Words, makes: Sequence[tuple[str, Words]], machine: Machine) -> Wish:
    """All of it.

    Args:
        told: by the keys of `SCALARS`.
        makes: what is made, in the order of use, each with the place where it stands.
        machine: its file has a room and cold water, for where none are told.

    Raises:
        ValueError: `key: sentence`; the sentence names the likely slip and what to write.
    """
    kind = _kind(told.get("chocolate", Kind.DARK))
    left_kg = _value(told, "left", q.LEFT)
    uses = tuple(_use(at, words, DIP_KG if left_kg is None else left_kg) for at, words in makes)
    batch = _value(told, "batch", q.BATCH)
    if not uses and batch is None:
        raise ValueError(
            f'batch: nothing is to be made; tell pieces, like "{PIECES_EXAMPLE[0]}", a shell, or a '
            'batch, like "1.2 kg"'
        )
    _fits(batch if batch is not None else batch_kg(uses), machine)
    room = _value(told, "room", q.ROOM)
    room = machine.room_c if room is None else room
    return Wish(
        kind=kind,
        fat=_value(told, "fat", q.FAT),
        uses=uses,
        batch_kg=batch,
        room_c=room,
        humidity=_value(told, "humidity", q.HUMIDITY) or HUMIDITY,
        pressure_hpa=_pressure_hpa(told),
        altitude_m=_value(told, "altitude", q.ALTITUDE),
        tap_c=_value(told, "tap", q.TAP) or machine.cold_water_c,
        seed_c=_value(told, "seed", q.SEED) or min(room, 32.0),
        fridge_c=_or(_value(told, "fridge", q.FRIDGE), FRIDGE_C),
        work_s=_value(told, "work", q.WORK),
        assumed=tuple(key for key in ("room", "humidity", "tap", "fridge") if key not in told),
    )


def _fits(wanted_kg: float, machine: Machine) -> None:
    """ValueError where that is many times what the machine is for."""
    rounds = math.ceil(wanted_kg / machine.batch_kg)
    if rounds > MOST_ROUNDS:
        raise ValueError(
            f"batch: {wanted_kg:.4g} kg is {rounds} times what the machine {machine.name} is for "
            f"({machine.batch_kg:g} kg); check masses and counts, or plan one of {rounds} rounds"
        )


def _or(value: float | None, other: float) -> float:
    return other if value is None else value


def _value(words: Words, key: str, quantity: q.Quantity) -> float | None:
    try:
        return q.read(words[key], quantity) if key in words else None
    except ValueError as error:
        raise ValueError(f"{key}: {error}") from None


def _kind(word: str) -> Kind:
    kinds = [Kind.DARK, Kind.MILK, Kind.WHITE]
    if word.lower() in kinds:
        return Kind(word.lower())
    close = difflib.get_close_matches(word.lower(), kinds, n=1)
    hint = f"did you mean {close[0]}?" if close else f"write one of {', '.join(kinds)}"
    raise ValueError(f"chocolate: {q.quoted(word)} is no kind; {hint}")


def _pressure_hpa(told: Words) -> float:
    """As told, or of the standard atmosphere at the altitude told; else at sea level."""
    altitude_m = _value(told, "altitude", q.ALTITUDE)
    pressure = _value(told, "pressure", q.PRESSURE)
    standard = standard_hpa(altitude_m or 0.0)
    if pressure is None:
        return standard
    if altitude_m is not None and abs(pressure / standard - 1.0) > PRESSURES_AGREE:
        raise ValueError(
            f"pressure: {pressure:.0f} hPa is not the air's at {altitude_m:.0f} m, where it has "
            f"about {standard:.0f}; a weather report's is reduced to sea level: leave it out"
        )
    return pressure


def _use(at: str, words: Words, left_kg: float) -> Use:
    try:
        return _shell(words) if "shape" in words else _coated(words, left_kg)
    except KeyError as missing:
        raise ValueError(f"{at} · {missing.args[0]}: is missing") from None
    except ValueError as error:
        raise ValueError(f"{at} · {error}") from None


def _count(words: Words, key: str = "count") -> int:
    try:
        return q.whole(words.get(key, "1"))
    except ValueError as error:
        raise ValueError(f"{key}: {error}") from None


def _coated(words: Words, left_kg: float) -> Use:
    count = _count({"count": words["count"]})
    centre_kg, share = (
        _or(_value({key: words[key]}, key, quantity), 0.0)
        for key, quantity in (("centre", q.CENTRE), ("coating", q.COATING))
    )
    return coating(
        words.get("name", "pieces"), centre_kg=centre_kg, share=share, count=count, left_kg=left_kg
    )


def _shell(words: Words) -> Use:
    shape = words["shape"].lower()
    if shape not in SHAPES:
        close = difflib.get_close_matches(shape, SHAPES, n=1)
        hint = f"did you mean {close[0]}?" if close else f"write one of {', '.join(SHAPES)}"
        raise ValueError(f"shape: {q.quoted(shape)} is none that is known; {hint}")
    dimensions, volume = SHAPES[shape]
    size = _sizes(words["size"], dimensions, shape)
    wall = _or(_value({"wall": words["wall"]}, "wall", q.WALL), 0.0)
    if 2.0 * wall >= 0.8 * min(size):
        raise ValueError(
            f"wall: {1e3 * wall:g} mm leaves hardly anything hollow in {1e3 * min(size):g} mm; "
            f"did you mean {1e2 * wall:g} mm, or is the size in cm?"
        )
    return shells(
        words.get("name", shape),
        cavity_m3=volume(size, 0.0),
        inside_m3=volume(size, wall),
        count=_count(words),
        at_once=_count(words, "at_once"),
    )


def _sizes(text: str, dimensions: int, shape: str) -> tuple[float, ...]:
    """`160 x 110 mm`: the last one's unit holds for those that have none."""
    parts = [part.strip() for part in re.split(r"[x\u00d7]", text)]
    if len(parts) != dimensions:
        example = "160 x 110 mm" if dimensions > 1 else "120 mm"
        sizes = f"{dimensions} sizes" if dimensions > 1 else "one size"
        raise ValueError(f"size: {shape} takes {sizes}, not {len(parts)}; write {example}")
    unit = parts[-1].lstrip("+-0123456789., ")
    whole = [part if part[-1:].isalpha() else f"{part} {unit}" for part in parts]
    return tuple(_or(_value({"size": part}, "size", q.SIZE), 0.0) for part in whole)


def _matched(pattern: re.Pattern[str], text: str, example: tuple[str, str]) -> Words:
    found = pattern.fullmatch(text.strip())
    if found is None:
        like, means = example
        raise ValueError(f'{q.quoted(text)} can\'t be understood; write it like "{like}": {means}')
    return {key: value.strip() for key, value in found.groupdict().items() if value is not None}
