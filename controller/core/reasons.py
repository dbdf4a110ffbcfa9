"""Why each cause is an alarm: a sentence between what was seen and what to do now.

Responsible for that sentence, and for when a batch is better called off; the other two stand in
the rows of the interlocks. When to call it off is common practice, no source.
"""

from controller.core.interlock_rows import Cause

_NO_VALUE = "Without a {0} temperature that can be believed, nobody knows how much heat is safe."
_LOOSE = "That is mostly a loose or wet contact, and what it says can't be relied on."
_STILL = "A live thermometer would have moved by now, so this one may hide how warm it is."
_PLACES = "A thermometer has drifted or slipped out of its place, or the bowl out of the bath."
_HANDS = "Perhaps something was added, the stirrer stands, or the thermometer slipped."
_SWITCH = "A switch that stays closed heats the bath until it boils."
_DEAD = "Fuse, cut-out, switch, wire or heater has failed, and the batch gets cold."
_PROGRAM = "The run goes on, but the program is not quite as it should be."

WHY: dict[str, str] = {
    Cause.RELAY_STUCK_ON: (
        "A switch that stays closed boils the bath, and a heater that runs dry glows on."
    ),
    Cause.BATH_OVER_LIMIT: "A bath this warm spoils the chocolate, and it may scald.",
    Cause.BOWL_OVER_LIMIT: "Chocolate this warm loses its temper, and burns if it goes on.",
    Cause.BOWL_TOO_WARM: "Chocolate that gets warmer than its phase wants loses its temper.",
    Cause.BATH_PROBE_MISSING: _NO_VALUE.format("bath"),
    Cause.BATH_PROBE_NOT_A_NUMBER: _NO_VALUE.format("bath"),
    Cause.BATH_PROBE_STALE: _NO_VALUE.format("bath"),
    Cause.BATH_PROBE_OUT_OF_RANGE: _NO_VALUE.format("bath"),
    Cause.BATH_PROBE_JUMPING: _LOOSE,
    Cause.BATH_PROBE_FROZEN: _STILL,
    Cause.BOWL_PROBE_MISSING: _NO_VALUE.format("bowl"),
    Cause.BOWL_PROBE_NOT_A_NUMBER: _NO_VALUE.format("bowl"),
    Cause.BOWL_PROBE_STALE: _NO_VALUE.format("bowl"),
    Cause.BOWL_PROBE_OUT_OF_RANGE: _NO_VALUE.format("bowl"),
    Cause.BOWL_PROBE_JUMPING: _LOOSE,
    Cause.BOWL_PROBE_FROZEN: _STILL,
    Cause.HEAT_WITHOUT_EFFECT: "The heat goes nowhere, or somewhere that no thermometer sees.",
    Cause.LEVEL_LOST: "A heater without water around it glows within a minute.",
    Cause.STIRRER_STOPPED: "Unstirred chocolate overheats at the wall and sets in the middle.",
    Cause.TICK_LATE: "A computer that comes late might switch the heater off too late.",
    Cause.PHASE_LATE: "Something is not as the profile expects it: amount, water, room or heater.",
    Cause.RUN_TOO_LONG: "A machine that heats must not be left alone.",
    Cause.CLOCKS_DISAGREE: "The computer slept or stood still, and saw nothing meanwhile.",
    Cause.LIMITS_CHANGED: "The computer's memory is faulty, and no limit of it can be relied on.",
    Cause.GUARD_LATCHED: "The guard keeps heat off until a person has seen to what it saw.",
    Cause.GUARD_SILENT: "The guard drives the heater: whether it is off, nobody can tell.",
    Cause.HEATER_LIVE_WHEN_OFF: _SWITCH,
    Cause.HEATER_DEAD_WHEN_ON: _DEAD,
    Cause.HEATER_POWER_WRONG: "Another heater may heat too much, and a burnt one too little.",
    Cause.HEATER_UNSEEN: "A switch that sticks would be noticed minutes later than it should be.",
    Cause.KIND_WRONG: "Each kind of chocolate has temperatures of its own, and another's ruin it.",
    Cause.PROBES_APART_COLD: "One of the two is wrong, and the heat would go by it.",
    Cause.BOWL_TOO_COLD: "Cold chocolate draws water, and a probe that reads too low overheats it.",
    Cause.FIRST_SWITCH_STUCK: "If the second sticks, too, nothing can switch the heater off.",
    Cause.SECOND_SWITCH_STUCK: "If the first sticks, too, nothing can switch the heater off.",
    Cause.BOWL_NOT_WARMED: "Its probe may hang in the air, or the bowl beside the bath.",
    Cause.GUARD_PROBE_MISSING: "Without it the guard lets no heat through.",
    Cause.GUARD_PROBE_FROZEN: _STILL,
    Cause.BATH_PROBES_DISAGREE: "One of the two is wrong, and it may be the one that heat goes by.",
    Cause.PROBES_CROSSED: "The two thermometers seem to stand in each other's places.",
    Cause.BOWL_UNLIKE_BATH: _PLACES,
    Cause.BOWL_FELL_ALONE: _PLACES,
    Cause.BOWL_DISTURBED: _HANDS,
    Cause.STIRRER_UNLOADED: "Belt, coupling or paddle has come off, or it turns the wrong way.",
    Cause.LOAD_JUMPED: "Water in chocolate makes it thick within seconds, and so does a lump.",
    Cause.HEAT_DEMAND_CHANGED: (
        "Low water, a lid off, a draught or a failing heater make it more; a lid put on makes it "
        "less."
    ),
    Cause.BATCH_SETTING: "It thickens until nothing can be dipped or poured with it.",
    Cause.AMOUNT_UNLIKELY: "Times, and how much water to swap, are worked out for that batch.",
    Cause.MEMORY_SHORT: "A computer without memory ends programs, this one among them.",
    Cause.MEMORY_GROWING: _PROGRAM,
    Cause.PART_ENDED: "The run goes on without it, for as long as it can.",
    Cause.PARTS_PILING_UP: _PROGRAM,
    Cause.COMPUTER_BUSY: "It would come late to switch the heater off.",
    Cause.DISK_FULL: "When it is full the record of the run breaks off; the batch goes on.",
    Cause.RECORD_BROKEN_OFF: "The disk is full or failing; the batch goes on.",
    Cause.CLOCK_JUMPED: "Times of day in the record don't agree from here on.",
    Cause.SELF_WATCH_SILENT: "Whatever else goes wrong with the computer would not be told.",
}


def why(cause: str) -> str:
    """The sentence for a cause; empty for a word that this version does not know."""
    return WHY.get(cause, "")


_SWITCH_OFF = "For now: nothing may heat before its cause is found and mended."
_BURNT = "If it smells burnt; else it is only melted out, and is tempered anew."
_PROBE_OFF = "No, unless that thermometer fails once more: it has to be replaced."
_PLACES_OFF = "If everything sits where it belongs and this comes back."
_COMPUTER_OFF = "If this comes back: such a computer can't carry a batch."
_STIRRER_OFF = "If it does not turn freely by hand, or this comes back."
_HEATER_OFF = "If plug, fuse and cut-out are whole and this comes back."
_COLD_OFF = "No need to: nothing has been heated yet."
_UNSEEN_OFF = "No need to: it ends no run but at the start, when nothing has been heated yet."

# For each cause that ends a run, the guard's own among them.
CALL_OFF: dict[str, str] = {
    Cause.RELAY_STUCK_ON: _SWITCH_OFF,
    Cause.FIRST_SWITCH_STUCK: _SWITCH_OFF,
    Cause.SECOND_SWITCH_STUCK: _SWITCH_OFF,
    Cause.HEATER_LIVE_WHEN_OFF: _SWITCH_OFF,
    Cause.BATH_OVER_LIMIT: _BURNT,
    Cause.BOWL_OVER_LIMIT: _BURNT,
    Cause.BATH_PROBE_MISSING: _PROBE_OFF,
    Cause.BATH_PROBE_NOT_A_NUMBER: _PROBE_OFF,
    Cause.BATH_PROBE_STALE: _PROBE_OFF,
    Cause.BATH_PROBE_OUT_OF_RANGE: _PROBE_OFF,
    Cause.BATH_PROBE_JUMPING: _PROBE_OFF,
    Cause.BATH_PROBE_FROZEN: _PROBE_OFF,
    Cause.BOWL_PROBE_MISSING: _PROBE_OFF,
    Cause.BOWL_PROBE_NOT_A_NUMBER: _PROBE_OFF,
    Cause.BOWL_PROBE_STALE: _PROBE_OFF,
    Cause.BOWL_PROBE_OUT_OF_RANGE: _PROBE_OFF,
    Cause.BOWL_PROBE_JUMPING: _PROBE_OFF,
    Cause.BOWL_PROBE_FROZEN: _PROBE_OFF,
    Cause.GUARD_PROBE_MISSING: _PROBE_OFF,
    Cause.GUARD_PROBE_FROZEN: _PROBE_OFF,
    Cause.BATH_PROBES_DISAGREE: _PROBE_OFF,
    Cause.HEAT_WITHOUT_EFFECT: _HEATER_OFF,
    Cause.HEATER_DEAD_WHEN_ON: _HEATER_OFF,
    Cause.HEATER_POWER_WRONG: _HEATER_OFF,
    Cause.LEVEL_LOST: "If the water sinks again soon: the bath leaks.",
    Cause.STIRRER_STOPPED: _STIRRER_OFF,
    Cause.STIRRER_UNLOADED: _STIRRER_OFF,
    Cause.TICK_LATE: _COMPUTER_OFF,
    Cause.LIMITS_CHANGED: _COMPUTER_OFF,
    Cause.GUARD_SILENT: _COMPUTER_OFF,
    Cause.PHASE_LATE: "If this comes back with the right amount, a lid on and a whole heater.",
    Cause.RUN_TOO_LONG: "If nobody can stay with it.",
    Cause.GUARD_LATCHED: "If `bainward rearm --machine FILE` says so.",
    Cause.KIND_WRONG: _COLD_OFF,
    Cause.PROBES_APART_COLD: _COLD_OFF,
    Cause.BOWL_TOO_COLD: _COLD_OFF,
    Cause.HEATER_UNSEEN: _UNSEEN_OFF,
    Cause.BOWL_NOT_WARMED: _PLACES_OFF,
    Cause.PROBES_CROSSED: _PLACES_OFF,
    Cause.BOWL_UNLIKE_BATH: _PLACES_OFF,
    Cause.BOWL_FELL_ALONE: _PLACES_OFF,
    "controller-lost": _COMPUTER_OFF,
    "lease-lapsed": _COMPUTER_OFF,
    "bath-over-cap": _BURNT,
    "guard-probe-lost": _PROBE_OFF,
    "guard-restarted": _COMPUTER_OFF,
    "latch-unreadable": "If the disk can't be freed or mended: without it nothing may heat.",
}


_COLD = frozenset(one for one, text in CALL_OFF.items() if text in {_COLD_OFF, _UNSEEN_OFF})
_HOT = frozenset(one for one, text in CALL_OFF.items() if text == _BURNT)


def fate(cause: str) -> str:
    """What becomes of the batch of a run that ended so; empty where none was begun or known."""
    if cause in _COLD or cause not in CALL_OFF:
        return ""
    if cause in _HOT:
        return "What does not smell burnt is not lost: a new run melts it anew."
    return "The batch is not lost: a new run melts it anew."


def call_off(cause: str) -> str:
    """When a batch that ended so is better called off; empty where no run ends by that."""
    return CALL_OFF.get(cause, "")
