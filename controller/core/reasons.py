"""Why each cause is an alarm: a sentence between what was seen and what to do now.

Responsible for that sentence; the other two stand in the rows of the interlocks.
"""

from controller.core.interlock_rows import Cause

_NO_VALUE = "Without a {0} temperature that can be believed, nobody knows how much heat is safe."
_LOOSE = "That is mostly a loose or wet contact, and what it says can't be relied on."
_STILL = "A live thermometer would have moved by now, so this one may hide how warm it is."
_PLACES = "Most often a thermometer has slipped out of its place, or the bowl out of the bath."
_HANDS = "Somebody may have added something, or the thermometer may have slipped."
_SWITCH = "A switch that stays closed heats the bath until it boils."
_DEAD = "Fuse, cut-out, switch, wire or element has failed, and the batch gets cold."
_PROGRAM = "The run goes on, but the program is not quite as it should be."

WHY: dict[str, str] = {
    Cause.RELAY_STUCK_ON: _SWITCH,
    Cause.BATH_OVER_LIMIT: "Water this hot scalds, and ruins the chocolate in the bowl.",
    Cause.BOWL_OVER_LIMIT: "Chocolate this warm loses its temper, and burns if it goes on.",
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
    Cause.PHASE_LATE: "Something is not as the profile expects it: too much, too weak or too cold.",
    Cause.RUN_TOO_LONG: "A machine that heats must not be left alone.",
    Cause.CLOCKS_DISAGREE: "The computer slept or stood still, and saw nothing meanwhile.",
    Cause.LIMITS_CHANGED: "The computer's memory is faulty, and no limit of it can be relied on.",
    Cause.GUARD_LATCHED: "It stays so until a person has seen to it.",
    Cause.GUARD_SILENT: "Without the guard nothing would stop the heater if this program failed.",
    Cause.HEATER_LIVE_WHEN_OFF: _SWITCH,
    Cause.HEATER_DEAD_WHEN_ON: _DEAD,
    Cause.HEATER_POWER_WRONG: "Another element may heat too much, and a burnt one too little.",
    Cause.HEATER_UNSEEN: "A switch that sticks would be noticed minutes later than it should be.",
    Cause.KIND_WRONG: "Each kind of chocolate has temperatures of its own, and another's ruin it.",
    Cause.PROBES_APART_COLD: "One of the two is wrong, and the heat would go by it.",
    Cause.BOWL_TOO_COLD: "Cold chocolate draws water from the air, and a low probe overheats it.",
    Cause.FIRST_SWITCH_STUCK: "If the second welds, too, nothing can switch the heater off.",
    Cause.SECOND_SWITCH_STUCK: "If the first welds, too, nothing can switch the heater off.",
    Cause.BOWL_NOT_WARMED: "Its probe may hang in the air, or the bowl beside the bath.",
    Cause.GUARD_PROBE_FROZEN: _STILL,
    Cause.BATH_PROBES_DISAGREE: "One of the two is wrong, and it may be the one that heat goes by.",
    Cause.PROBES_CROSSED: "The two thermometers seem to stand in each other's places.",
    Cause.BOWL_UNLIKE_BATH: _PLACES,
    Cause.BOWL_FELL_ALONE: _PLACES,
    Cause.BOWL_DISTURBED: _HANDS,
    Cause.STIRRER_UNLOADED: "Belt, coupling or paddle has come off, or it turns the wrong way.",
    Cause.LOAD_JUMPED: "Water in chocolate makes it thick within seconds, and so does a lump.",
    Cause.HEAT_DEMAND_CHANGED: "The lid may be off, the room draughty, or the heater failing.",
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
