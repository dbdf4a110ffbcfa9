"""The thresholds of the interlocks, in one table that a golden test holds.

A few stand elsewhere: the self-watch's in `self_rows`; in `consistency` when what was learned is
sure enough to judge by (`_BESIDE_K` and its neighbours); in `evidence` when the element counts as
cold; in `heater_sight` what one look proves; in `alarms` when an alarm has returned; in `machine`
the ceilings.

Responsible for the numbers; not for what is done with them. Loosening one needs a change here and
in tests/unit/test_core_thresholds.py. Unless said otherwise these are own engineering values, from
a study on simulated machines, not published.
"""

from controller.core.signals import STALE_AFTER_S

# A probe's believable range: below it ice, above it the 85 °C power-on value of 1-wire parts.
PROBE_MIN_C = -5.0
PROBE_MAX_C = 84.9
PROBE_STALE_S = STALE_AFTER_S
OUT_OF_RANGE_TRIP_S = 5.0

# A change faster than this between two readings is not believed until it has come three times.
JUMP_K = 3.0
JUMP_BELIEVED_AFTER = 3
JUMPS_MAX = 10  # rejected readings tolerated within JUMP_WINDOW_S
JUMP_WINDOW_S = 300.0

OVER_LIMIT_TRIP_S = 2.0  # three samples at 1 Hz
# A bowl that is so far over what its phase wants is heated no more, whatever the bath seems to be:
# a batch in temper is gone 2 K over where it is held.
OVER_TARGET_K = 0.75
CAUGHT_WITHIN_S = 120.0  # one that falls so fast may be heated: it is to be caught at its target

# Frozen: the model has moved this far, for at least so long, and the reading not by one step.
FROZEN_MODEL_K = 1.0
# A coarse thermometer hides a whole step of its own: it is given so many, up to so much.
FROZEN_STEPS = 3.0
FROZEN_COARSE_K = 1.5
FROZEN_MIN_S = 45.0
FROZEN_BATH_S = 480.0  # a bath made to sway changes a live probe many times in this span
FROZEN_BOWL_S = 900.0
NUDGE_AFTER_S = 450.0  # a held bowl that has shown one value for so long is asked for
NUDGE_K = 0.1  # so much more, a step of a coarse thermometer,
NUDGE_S = 240.0  # for so long
# A bowl that shows one value may hide how warm it is, and its bath may be 0.2 K warmer than it says
# (class A of IEC 60751, see planning/probe_budget.py), and sways.
STILL_AFTER_S = 300.0  # from then on
STILL_SPARE_K = 0.3  # the bath is left so much under its ceiling
# The bowl must follow the bath: by this much at the least, in the slowest bowl, or it is frozen.
FROZEN_BOWL_MODEL_K = 2.0
FROZEN_BOWL_MIN_S = 120.0
# Chocolate in the midst of melting: 46 kJ/kg over some 10 K, and the specific heat (Beckett, 4th
# ed., pp. 667-668). More than any bowl of the same mass takes up otherwise.
SLOWEST_BOWL_J_PER_KG_K = 6200.0
FROZEN_HEAT_S = 5.0  # full-power seconds within the span, else nothing need have moved

# Without any heat: the bath has been so much colder or warmer, on average. A batch that sets is
# warmer than its bath for long, yet never keeps to one value. A coarse one is given its steps.
FROZEN_LEAD_K = 0.5

# Stuck on: little heat was asked in a minute, yet the bath rose as only the heater can make it.
STUCK_WINDOW_S = 60.0
STUCK_ASKED_S = 15.0
STUCK_RISE_FRACTION = 0.45
STUCK_MIN_RISE_K = 0.2
STUCK_STEP_S = 5.0
STUCK_HITS = 3

# Heat without effect: full-power seconds that no rise or loss has confirmed.
UNVERIFIED_BUDGET_S = 135.0
# Of full power, of late. Under it a bath that gives much to its bowl may cool though the heater
# works; and over a heater that does not, the controller soon asks for more.
GIVEN_SHARE = 0.5
GIVEN_SMOOTHED_S = 100.0
UNVERIFIED_AT_MOST = 2.0  # times the budget, however little is given at a time
VERIFIED_FRACTION = 0.15
VERIFY_AFTER_S = 30.0
RISEN_K = 0.25  # four steps of a common thermometer, so that noise about the coldest is no rise
# What goes unanswered may still be missed: heat is held back for so long, and the bath must then be
# so much lower than its way of before led, of what that heat would have done and at the least.
HELD_BACK_S = 60.0
MISSED_SHARE = 0.4
MISSED_LEAST_K = 0.25  # four steps of a common thermometer
VERIFY_FROM_SHARE = 0.3  # of full power; under it a fall of the bath is no sign of a dead heater

# After somebody changed bath or bowl, seen or said, the probes need this long to show it all.
SETTLING_S = 60.0
FALL_K = 1.0  # within STUCK_STEP_S: only cold water does that, told or not

START_S = 30.0  # as long as a run counts as beginning: no wait is then longer than this
START_WAIT_S = 5.0
TELL_AFTER_S = 5.0  # what is unsafe for less is no alarm

FORGIVEN_PER_S = 0.2  # s of unsafe time that one safe second undoes

LEVEL_TRIP_S = 2.0
SHAFT_FRACTION = 0.3  # of the commanded speed
SHAFT_GRACE_S = 5.0  # spin-up
SHAFT_TRIP_S = 2.0

RUN_MAX_S = 86_400.0  # nobody attends a bowl for longer than a day
CUT_OVER_CEILING_K = 2.0  # once the bath has come down, the cut follows it to here

CLOCK_WINDOW_S = 60.0
CLOCK_AHEAD_S = 1.8  # 3 % of the window

GUARD_SILENT_S = 3.0
GUARD_SILENT_TRIP_S = 10.0
GUARD_PROBE_TRIP_S = 60.0  # later than the guard itself latches for it

# What sensors say of each other, looked at every few seconds.
LOOK_EVERY_S = 5.0
LOOK_BACK_S = 60.0
QUIET_S = 300.0  # after somebody changed bath or bowl, until the two tell of each other again
TOUCHED_S = 60.0  # the same for two thermometers in one bath
APART_K = 2.0  # between two thermometers in the bath
# By which the guard's says more over the bath's than before any heat, in a bath that stands still.
# Two good ones keep what they differ by: of 400 whole machines, most of them handled roughly, to
# 0.8 K (own study); and a batch in temper is melted out from about 2 K on.
CREPT_K = 1.2
APART_TRIP_S = 60.0
# What of that is believed where no thermometer in the bowl would show it: each of the two may be
# 0.5 K off by its class (IEC 60751, class B at 50 °C: 0.55 K; from memory, not checked).
UNDER_GUARD_K = 1.0
# Own engineering values. Where the guard's says so much more, the bath's ceiling is lowered by the
# rest, unless the bowl vouches for its bath.
GUARD_OVER_K = 0.3
VOUCHES_S = 60.0  # it does while its own shows one value for no longer than this,
VOUCHES_K = 0.5  # and the bowl no further under its set-point
GUARD_FROZEN_S = 600.0
STIRRED_S = 120.0  # the bowl must have been stirred for so long to be judged as one body
UNLIKE_W = 18.0  # that an open lid takes from the bowl; over the transfer it is a lead in K
UNLIKE_K = 1.0  # besides, of the lead that the machine as learned does not explain
UNLIKE_COLD_K = 6.0  # the same of a bath that is too cold: chocolate that sets gives heat off
# Form V melts at 33.8 °C (Wille & Lutton, J. Am. Oil Chem. Soc. 43:491, 1966); half a kelvin for
# the thermometer.
SETS_BELOW_C = 34.3  # warmer, no chocolate sets
# All that chocolate gives off when it sets is what melts it (Beckett, 4th ed., pp. 667-668).
SETS_J_PER_KG = 46_000.0
STIRS_W = 30.0  # that a stirrer turns into heat in thick chocolate, where its load isn't measured
SETTING_SHARE = 0.06  # of the fat, form V at the least: in temper it is 0.5 to 4 % (from memory)
SETTING_SURE = 0.9  # how sure the estimate is that it is too much
# A bowl on its way is judged once it and its bath have stood still for so long, within:
STOOD_STILL_S = 300.0
STILL_BATH_K = 1.0
STILL_BOWL_K = 0.5
UNLIKE_PER_LEAD = 0.15  # more of it for each K of lead: what was learned is that uncertain
UNLIKE_TRIP_S = 60.0
LEARNED_TRANSFER_SD = 0.1  # as a logarithm; no better known, it is not held against the machine
LEARNED_LOSS_SD = 0.1  # no better known, the machine's losses are not held against it
LOSS_SHARE_MOST = 2.0  # of the machine file's losses, for what heat has to show for itself
LEARNING_S = 1200.0  # how slowly what was learned is taken for how the machine is
FELL_K = 2.5  # within LOOK_BACK_S and though the bath is warmer
FELL_BACK_K = 1.5  # the rest of it that is forgiven
FELL_TRIP_S = 300.0
DIPPED_K = 0.6  # the same, told to whoever may have added something
ROSE_K = 0.75
ROSE_OVER_K = 1.2  # over the warmest that the bath was meanwhile
CROSSED_K = 1.0  # by which the bowl answers heat over all that the bath was, before it is stirred
CROSSED_HEAT_S = 25.0  # on-time within LOOK_BACK_S
CROSSED_MOST = 1.5  # times what that heat can do by the machine file, which may be so far off
UNLOADED_SHARE = 0.5  # of the stirrer's load two looks before
UNLOADED_TRIP_S = 5.0  # a stirrer that stands has a row of its own, if its shaft is seen
LOAD_JUMP = 3.0  # times the load two looks before
LOAD_LEAST_W = 0.03  # less is noise
DEMAND_MORE = 1.45  # times the heat that the bath's losses needed so far
DEMAND_LESS = 0.7
AMOUNT_MORE = 1.43  # times the machine file's batch, once it has melted
AMOUNT_LESS = 0.7

# What is seen of the heater itself, where something is fitted for it.
HEATER_TELLS_S = 2.0  # two looks at 1 Hz that show it otherwise than told
# Full heat is broken off to see that the switches open; two looks are to fall into it, and what
# reads the heater may be a second late.
LOOK_CLOSED_S = 118.0
LOOK_OPEN_S = 4.0
LOOK_OPEN_TICKS = 4.0
CURRENT_FLOWS = 0.1  # of what the element's power takes; less is a sensor's own error
CURRENT_LESS = 0.65  # mains and machine file may each be off, and the sensor too
CURRENT_MORE = 1.45
HEATER_BLIND_S = 10.0  # that a sensor of the heater may give no value

# The proof of a start.
COLD_BATH_K = 3.0  # a bath that close to the room has not been heated
COLD_APART_K = 1.5  # between two thermometers in it; each may be 0.5 K off by its class
COLD_BOWL_K = 8.0  # that the bowl may be colder than such a bath: chocolate from a cold pantry
SWITCH_PROOF_S = 2.0  # two looks at 1 Hz for each switch
PULSE_S = 90.0  # full-power seconds within which the bath must have answered the first heat
BOWL_DUE_K = 2.0  # once the slowest bowl has risen by that, and this one by less than:
BOWL_FOLLOWED_K = 0.5
TURNED_S = 60.0  # from the first turn of the stirrer, in which its load must show it

LATE_TICKS_MAX = 2  # within LATE_WINDOW_S
LATE_WINDOW_S = 60.0
GAP_MAX_S = 10.0  # a longer tick is judged as this long

# The rough thermal picture that the interlocks judge by, wide enough for any machine.
ELEMENT_LAG_S = 20.0
TRANSFER_W_PER_K = 8.0  # bath to bowl, typical
TRANSFER_MAX_W_PER_K = 25.0
TRANSFER_MIN_W_PER_K = 5.0
BOWL_LOSS_MAX_W_PER_K = 1.0  # bowl to room, under its lid
