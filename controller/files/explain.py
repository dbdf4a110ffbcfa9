"""Says in plain words what a profile will do and what a machine can't see.

Responsible for the text of `bainward check` and `bainward profiles`; not for any check.
"""

from controller.core.blind_spots import BLIND_SPOTS, SECOND, WITHOUT_SECOND, unseen_without
from controller.core.lacks import lacks_of, sentences
from controller.core.machine import Machine
from controller.core.profile import (
    Choice,
    LateAction,
    Phase,
    PowerBack,
    Profile,
    Question,
    StopStirrer,
    When,
)
from controller.core.words import mass_text
from controller.files.attach_shape import BenchAttach, LinuxAttach
from controller.files.board_shape import ModbusAttach
from controller.files.explain_guard import guard_lines
from controller.files.input_shape import FileAt, InputAt
from controller.files.machine_file import MachineFile
from controller.files.profile_file import seed_share
from controller.files.temperatures import celsius_text, duration_text, span_text
from controller.link.settings import LinkSettings, Remote

_HEADINGS = ("phase", "bowl", "within", "dwell", "bath up to", "cut above", "stirrer", "late after")
_LATE = {LateAction.WARN: "warns", LateAction.STOP: "stops", LateAction.TRIP: "trips"}
_STOP = {
    StopStirrer.OFF: "heater and stirrer off",
    StopStirrer.KEEP: "heater off, the stirrer keeps turning while the bowl is warm enough",
}
_POWER_BACK = {
    PowerBack.ASK: "no heat by itself; look at the batch and decide",
    PowerBack.BEGIN_AGAIN: "no heat by itself; begin again from the first phase",
}


def _when_text(question: Question, *, fahrenheit: bool) -> str:
    if question.bowl_c is not None:
        return f"at a bowl of {celsius_text(question.bowl_c, fahrenheit=fahrenheit)} or less"
    return {
        When.START: "at its start",
        When.REACHED: "at its target",
        When.DWELLED: "after its dwell",
    }.get(question.when, question.when)


def _choice_text(choice: Choice) -> str:
    known = (("adds energy", choice.adds_energy), ("only at the machine", choice.at_machine))
    told = ", ".join(words for words, is_so in known if is_so)
    return f"{choice.word} ({told})" if told else choice.word


def _question_lines(phase: Phase, question: Question, *, fahrenheit: bool) -> list[str]:
    words = ", ".join(map(_choice_text, question.choices))
    silence = "waits for an answer"
    if question.unanswered_s is not None:
        silence = f"takes {question.unanswered} after {duration_text(question.unanswered_s)}"
    if question.takes_s is not None:
        silence += f"; says when {duration_text(question.takes_s)} are over"
    moment = _when_text(question, fahrenheit=fahrenheit)
    return [f"  {phase.name}, {moment}: {question.text}", f"    {words}; {silence}"]


def _phase_row(phase: Phase, *, fahrenheit: bool) -> tuple[str, ...]:
    def degrees(value_c: float) -> str:
        return celsius_text(value_c, fahrenheit=fahrenheit)

    stirrer = "still"
    if phase.stirrer_rpm > 0.0:
        stirrer = f"{phase.stirrer_rpm:g} rpm from {degrees(phase.stir_from_c)}"
    return (
        phase.name,
        degrees(phase.bowl_target_c),
        span_text(phase.tolerance_k, fahrenheit=fahrenheit),
        duration_text(phase.dwell_s),
        degrees(phase.bath_ceiling_c),
        degrees(phase.bath_cut_c),
        stirrer,
        f"{duration_text(phase.late_after_s)}, {_LATE[phase.late_action]}",
    )


def _aligned(rows: list[tuple[str, ...]]) -> list[str]:
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def explain_profile(profile: Profile, machine: Machine, fahrenheit: bool) -> str:
    """What the profile will do on this machine, as lines of plain text."""

    def degrees(value_c: float) -> str:
        return celsius_text(value_c, fahrenheit=fahrenheit)

    rows = [_phase_row(phase, fahrenheit=fahrenheit) for phase in profile.phases]
    lines = [
        f"{profile.name}: {profile.title} ({profile.kind})",
        f"Numbers: {profile.source}",
        *([f"Notes: {profile.notes}"] if profile.notes else []),
        (
            f"Never above: bowl {degrees(profile.bowl_never_above_c)}, "
            f"bath {degrees(profile.bath_never_above_c)}."
        ),
        *_seed_lines(profile, machine),
        "",
        *_aligned([_HEADINGS, *rows]),
        "",
    ]
    for phase in profile.phases:
        for question in phase.questions:
            lines += _question_lines(phase, question, fahrenheit=fahrenheit)
    return "\n".join([*lines, *_outcome_lines(profile)])


def _seed_lines(profile: Profile, machine: Machine) -> list[str]:
    share = seed_share(profile)
    if not share:
        return []
    seed, rest = mass_text(share * machine.batch_kg), mass_text((1.0 - share) * machine.batch_kg)
    return [f"Batch: melt {rest}, keep {seed} as seed."]


def _outcome_lines(profile: Profile) -> list[str]:
    wait = duration_text(profile.lost_probe_wait_s)
    return [
        f"Stop: {_STOP[profile.stop_stirrer]}.",
        f"Power back: {_POWER_BACK[profile.power_back]}.",
        f"Lost probe: heat is withheld at once; after {wait} the run trips.",
    ]


def _unseen_lines(machine: Machine) -> list[str]:
    """What nobody sees, for want of a sensor or at all; first, what a welded relay would do."""
    lines = [] if machine.has_second else [f"No {SECOND}: {WITHOUT_SECOND}."]
    lines += [f"No {need}: {what} can't be seen." for need, what in unseen_without(machine)]
    lines += ["Whatever is fitted, it may go unseen for a long time:"]
    return lines + [f"  {spot.what}; {spot.instead}." for spot in BLIND_SPOTS]


def _size_lines(machine: Machine, *, fahrenheit: bool) -> list[str]:
    room = celsius_text(machine.room_c, fahrenheit=fahrenheit)
    return [
        (
            f"Bath: {mass_text(machine.water_kg)} of water, vessel {machine.vessel_j_per_k:g} J/K, "
            f"heater {machine.heater_w:g} W, loss {machine.loss_w_per_k:g} W/K to a room at {room}."
        ),
        f"Batch: {mass_text(machine.batch_kg)}.",
        (
            f"Relay: at least {machine.min_on_s:g} s on and {machine.min_off_s:g} s off. "
            f"A tick each {machine.period_s:g} s."
        ),
        *_cooling_lines(machine, fahrenheit=fahrenheit),
        (
            f"Probe offsets: bath {span_text(machine.bath_offset_k, fahrenheit=fahrenheit)}, "
            f"bowl {span_text(machine.bowl_offset_k, fahrenheit=fahrenheit)}."
        ),
    ]


def _cooling_lines(machine: Machine, *, fahrenheit: bool) -> list[str]:
    cooler = machine.cooler
    if cooler is None:
        tap = celsius_text(machine.cold_water_c, fahrenheit=fahrenheit)
        return [f"Cooling: by the cook, with water at {tap}."]
    kind, sink = (
        ("fan", "the room")
        if cooler.is_fan
        else ("pump", celsius_text(cooler.sink_c, fahrenheit=fahrenheit))
    )
    return [
        (
            f"Cooling: a {kind} that takes {cooler.carries_w_per_k:g} W/K towards {sink}, at "
            f"least {cooler.min_on_s:g} s on and {cooler.min_off_s:g} s off."
        )
    ]


def _board_line(attach: ModbusAttach) -> str:
    """Where everything lies on a board."""
    outputs, board = {"stirrer": attach.stirrer, "cooling": attach.cooling}, attach.board
    inputs = {
        "bath": attach.bath,
        "bowl": attach.bowl,
        "level": attach.level,
        "shaft": attach.shaft,
        "load": attach.load,
        "lid": attach.lid,
        "stop": attach.stop,
    }
    places = [f"{key} {one.point}" for key, one in inputs.items() if one is not None]
    places += [f"{key} {one.coil}" for key, one in outputs.items() if one is not None]
    return f"Attached: a board at {board.at}, unit {board.unit}; {', '.join(places)}."


def _attached_line(attach: BenchAttach | LinuxAttach | ModbusAttach) -> str:
    if isinstance(attach, ModbusAttach):
        return _board_line(attach)
    if isinstance(attach, BenchAttach):
        return (
            f'Attached: the bench machine "{attach.machine}", seed {attach.seed}; '
            f"its cook answers after {duration_text(attach.answer_after_s)}."
        )
    bath, bowl = (
        "none" if one is None else f"{one.place} ({one.kind})" for one in (attach.bath, attach.bowl)
    )
    stirrer = "none" if attach.stirrer_line is None else f"on the line {attach.stirrer_line}"
    if attach.stirrer_pwm is not None:
        stirrer = (
            f"by PWM at {attach.stirrer_pwm.path}, {attach.stirrer_pwm.full_rpm:g} rpm at full"
        )
    parts = [f"bath {bath}", f"bowl {bowl}", f"stirrer {stirrer}", *_more_of_linux(attach)]
    return f"Attached: {', '.join(parts)}."


def _more_of_linux(attach: LinuxAttach) -> list[str]:
    """What a machine may have besides, so that a maker sees that it was understood."""
    current, load = attach.heater_current, attach.load
    inputs = {"level": attach.level, "shaft": attach.shaft, "lid": attach.lid, "stop": attach.stop}
    files = {key: one.path for key, one in inputs.items() if isinstance(one, FileAt)}
    lines = {
        **{key: one.line for key, one in inputs.items() if isinstance(one, InputAt)},
        "cooling": attach.cooling_line,
        "buzzer": attach.buzzer_line,
        "lamp": attach.lamp_line,
    }
    measured = [] if current is None else [f"heater current {current.place} ({current.kind})"]
    measured += [] if load is None else [f"load {load.chip.place} ({load.supply_v:g} V)"]
    measured += [f"{key} in the file {path}" for key, path in files.items()]
    return measured + [f"{key} on the line {line}" for key, line in lines.items() if line]


_WHO_HEATS = {
    Remote.OFF: "nobody may ask for heat over it",
    Remote.ACCESS_LIST: "whom the broker lets write may ask for what leads to heat",
    Remote.SIGNED: "whoever has the signing key may ask for what leads to heat",
}


def _broker_text(link: LinkSettings) -> str:
    how = "not encrypted" if link.tls is None else "encrypted"
    where = f"{link.host}:{link.port} as {link.device_id}"
    return f"{where}, {how}; {_WHO_HEATS[link.remote]}"


def _reach_lines(machine_file: MachineFile) -> list[str]:
    link = machine_file.link
    broker = "none" if link is None else _broker_text(link)
    journal = machine_file.journal_dir
    return [
        _attached_line(machine_file.attach),
        f"Broker: {broker}.",
        f"Journal: {'the default folder' if journal is None else journal}.",
    ]


def explain_machine(machine_file: MachineFile, fahrenheit: bool) -> str:
    """What the machine is, whom it tells, and what nobody can see on it, as plain text."""
    machine = machine_file.machine
    limits = [
        celsius_text(one, fahrenheit=fahrenheit) for one in (machine.bath_max_c, machine.bowl_max_c)
    ]
    return "\n".join(
        [
            f"Machine {machine.name}",
            f"Limits: bath {limits[0]}, bowl {limits[1]}.",
            *_size_lines(machine, fahrenheit=fahrenheit),
            *_reach_lines(machine_file),
            *sentences(lacks_of(machine)),
            *_unseen_lines(machine),
            *guard_lines(machine_file),
        ]
    )
