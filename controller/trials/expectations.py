"""What is to be seen of each fault: the causes that are right, and what must be fitted to see it.

Responsible for that table alone, which follows from what a fault does and what a detector compares;
not for trying faults (ordeal). A cause is right if it sends a person to what is broken.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from controller.trials.ordeal_draws import SWITCH
from controller.wiring import BenchFault as B


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectation:
    """One row: words of causes, of fittings and of legs (`ordeal_watch.leg_of`)."""

    causes: frozenset[str]  # any of them is right
    sure: bool = True  # it is to be seen; else it may be
    needs: frozenset[str] = frozenset()  # of these one must be fitted, or it can't be seen
    but: str = ""  # where this is fitted it does nothing, and so can't be seen
    hidden: frozenset[str] = frozenset()  # legs in which it shows late or not at all
    shown_by: frozenset[str] = frozenset()  # each of these shows it there all the same
    by_hand: bool = False  # a person does what harm there is, and no controller prevents it

    def is_due(self, fittings: frozenset[str], leg: str) -> bool:
        """Whether it is to be seen on a machine with these fittings, in this leg."""
        return (
            self.sure
            and (not self.needs or bool(self.needs & fittings))
            and (not self.but or self.but not in fittings)
            and (leg not in self.hidden or bool(self.shown_by & fittings))
        )


def _sure(
    causes: str, *, needs: str = "", but: str = "", hidden: str = "", shown_by: str = ""
) -> Expectation:
    return Expectation(
        causes=frozenset(causes.split()),
        needs=frozenset(needs.split()),
        but=but,
        hidden=frozenset(hidden.split()),
        shown_by=frozenset(shown_by.split()),
    )


def _perhaps(causes: str = "") -> Expectation:
    return Expectation(causes=frozenset(causes.split()), sure=False)


def _by_hand(causes: str = "") -> Expectation:
    return Expectation(causes=frozenset(causes.split()), sure=False, by_hand=True)


# While heat is asked for without a break, a weld shows only to what looks at the heater itself, for
# whose sake it is broken off for a few seconds; before the chocolate is soft the stirrer stands;
# while the bath cools itself no heat is asked for.
_HEATING, _COOLING, _ON_THE_WAY = "melt", "cool", "melt cool rewarm"
_DEAD = _sure("heat-without-effect heater-dead-when-on guard-latched", hidden=_COOLING)
_STANDS = _sure("stirrer-stopped stirrer-unloaded", needs="shaft", hidden=_HEATING)
_UNLOADED = _sure("stirrer-unloaded stirrer-stopped", needs="load", hidden=_HEATING)
_BATH_GONE, _BOWL_GONE = _sure("bath-probe-missing"), _sure("bowl-probe-missing")
_BATH_OFF = _sure("bath-probes-disagree bath-probe-jumping bath-over-limit guard-latched")
_BOWL_OFF = _sure(
    "bowl-unlike-bath bowl-fell-alone bowl-disturbed bowl-probe-jumping bowl-over-limit",
    hidden=_ON_THE_WAY,
)
# What creeps makes no step, so a stirred-up bowl is not it, and that advice is gone in a minute.
_BOWL_CREEPS = _sure(
    "bowl-unlike-bath bowl-fell-alone bowl-probe-jumping bowl-over-limit", hidden=_ON_THE_WAY
)
_OUT_OF_TIME = _sure("tick-late clocks-disagree guard-latched")

EXPECTATIONS: Mapping[B, Expectation] = {
    B.RELAY_WELDED: _sure(
        "relay-stuck-on bath-over-limit heater-live-when-off guard-latched",
        but=SWITCH,
        hidden=_HEATING,
        shown_by="mains-live current",
    ),
    B.RELAY_OPEN: _DEAD,
    B.RELAY_CHATTERING: _perhaps(
        "heat-demand-changed heat-without-effect heater-dead-when-on guard-latched"
    ),
    B.SECOND_SWITCH_WELDED: _perhaps("second-switch-stuck"),
    B.HEATER_DEAD: _DEAD,
    B.HEATER_HALF: _sure(
        "heater-power-wrong heat-demand-changed heat-without-effect",
        needs="current",
        hidden=_COOLING,
    ),
    B.HEATER_WRONG: _sure(
        "heater-power-wrong heat-demand-changed relay-stuck-on", needs="current", hidden=_COOLING
    ),
    B.MAINS_LIVE_STUCK: _sure("heater-live-when-off guard-latched", needs="mains-live"),
    B.MAINS_LIVE_DEAD: _sure(
        "heater-dead-when-on guard-latched", needs="mains-live", hidden=_COOLING
    ),
    B.CURRENT_FROZEN: _sure(
        "heater-live-when-off heater-dead-when-on", needs="current", hidden="cool rewarm"
    ),
    B.CURRENT_DEAD: _sure("heater-dead-when-on", needs="current", hidden=_COOLING),
    B.CURRENT_LOST: _sure("heater-unseen", needs="current"),
    B.LEVEL_LOST: _sure("level-lost", needs="level"),
    B.LEVEL_STUCK: _perhaps(),
    B.WATER_LOW: _perhaps("level-lost heat-demand-changed"),
    B.WATER_EMPTY: _sure("level-lost", needs="level"),
    B.WATER_SPILLED: _perhaps("level-lost heat-demand-changed"),
    B.WATER_SWAPPED: _by_hand("heat-demand-changed"),
    B.WATER_BOILING: _by_hand("bath-over-limit guard-latched bowl-over-limit"),
    B.LID_OFF: _by_hand("heat-demand-changed"),
    B.BOWL_LIFTED: _by_hand("bowl-unlike-bath bowl-fell-alone bowl-disturbed"),
    B.WATER_SPLASHED: _by_hand("load-jumped"),
    B.CHOCOLATE_ADDED: _by_hand("bowl-disturbed bowl-too-warm"),
    B.STIRRER_STOPPED: _STANDS,
    B.STIRRER_REVERSED: _UNLOADED,
    B.STIRRER_BLOCKED: _STANDS,
    B.BELT_OFF: _UNLOADED,
    B.SHAFT_LOST: _STANDS,
    B.BATH_PROBE_OPEN: _BATH_GONE,
    B.BATH_PROBE_SHORT: _BATH_GONE,
    B.BATH_PROBE_CHECKSUM: _BATH_GONE,
    B.BATH_PROBE_POWER_ON: _BATH_GONE,
    B.BATH_PROBE_ALL_ZERO: _BATH_GONE,
    B.BATH_PROBE_NAN: _sure("bath-probe-not-a-number"),
    B.BATH_PROBE_OUT_OF_RANGE: _sure("bath-probe-out-of-range"),
    B.BATH_PROBE_FROZEN: _sure("bath-probe-frozen bath-probes-disagree"),
    B.BATH_PROBE_STALE: _sure("bath-probe-stale"),
    B.BATH_PROBE_JUMPING: _sure("bath-probe-jumping"),
    B.BATH_PROBE_DRIFT: _BATH_OFF,
    B.BATH_PROBE_OFFSET: _BATH_OFF,
    B.BATH_PROBE_SLOW: _perhaps("bath-probes-disagree bath-probe-frozen"),
    B.BATH_PROBE_INTERMITTENT: _BATH_GONE,
    B.BATH_PROBE_WET: _sure("bath-probe-jumping bath-probe-missing"),
    B.BATH_PROBE_OUT: _BATH_OFF,
    B.BOWL_PROBE_OPEN: _BOWL_GONE,
    B.BOWL_PROBE_SHORT: _BOWL_GONE,
    B.BOWL_PROBE_CHECKSUM: _BOWL_GONE,
    B.BOWL_PROBE_POWER_ON: _BOWL_GONE,
    B.BOWL_PROBE_ALL_ZERO: _BOWL_GONE,
    B.BOWL_PROBE_NAN: _sure("bowl-probe-not-a-number"),
    B.BOWL_PROBE_OUT_OF_RANGE: _sure("bowl-probe-out-of-range"),
    B.BOWL_PROBE_FROZEN: _sure("bowl-probe-frozen bowl-unlike-bath"),
    B.BOWL_PROBE_STALE: _sure("bowl-probe-stale"),
    B.BOWL_PROBE_JUMPING: _sure("bowl-probe-jumping"),
    B.BOWL_PROBE_DRIFT: _BOWL_CREEPS,
    B.BOWL_PROBE_OFFSET: _BOWL_OFF,
    B.BOWL_PROBE_SLOW: _perhaps("bowl-unlike-bath bowl-probe-frozen"),
    B.BOWL_PROBE_INTERMITTENT: _BOWL_GONE,
    B.BOWL_PROBE_WET: _sure("bowl-probe-jumping bowl-probe-missing bowl-fell-alone"),
    B.BOWL_PROBE_OUT: _BOWL_OFF,
    B.BOWL_PROBE_AT_WALL: _perhaps("bowl-unlike-bath bowl-disturbed"),
    B.PROBES_SWAPPED: _perhaps(
        "probes-crossed bath-probes-disagree bowl-unlike-bath bath-over-limit"
    ),
    B.GUARD_PROBE_OPEN: _sure("guard-probe-missing guard-latched"),
    B.GUARD_PROBE_FROZEN: _sure("guard-probe-frozen bath-probes-disagree"),
    B.GUARD_PROBE_OUT: _sure("bath-probes-disagree guard-latched"),
    B.PROFILE_WRONG: _sure("kind-wrong"),
    B.AMOUNT_WRONG: _by_hand("amount-unlikely"),
    B.SEED_FORGOTTEN: _by_hand(),
    B.SEED_EARLY: _by_hand("bowl-disturbed"),
    B.SWAP_FORGOTTEN: _by_hand(),
    B.ANSWER_LATE: _by_hand(),
    B.ANSWER_NEVER: _by_hand(),
    B.ANSWER_WRONG: _by_hand(),
    B.POWER_DIP: _sure(
        "heat-without-effect stirrer-stopped stirrer-unloaded heater-dead-when-on guard-latched",
        hidden=_COOLING,
    ),
    B.CLOCK_FORWARD: _OUT_OF_TIME,
    B.CLOCK_BACK: _OUT_OF_TIME,
    B.CLOCK_STALL: _OUT_OF_TIME,
    B.TICK_LATE: _sure("tick-late guard-latched"),
    B.MEMORY_BIT: _sure("limits-changed"),
}
