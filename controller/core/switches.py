"""A stop button and a lid's switch at the machine: what is seen of them, and what follows.

Responsible for the stop that no profile overrules, and for taking the lid's own word for it; not
for how a line is read (hardware), nor for what a lid does to the belief (hands).
"""

import math

from controller.core.announcement import Deed
from controller.core.heeding import covered
from controller.core.moves import Trigger, move
from controller.core.records import replace
from controller.core.signals import STALE_AFTER_S, Fault, Reading, Readings
from controller.core.state import Event, EventName, State
from controller.core.words import button_sentences

ACTIVE = 1.0
# A lid that is put on rattles, and a cook who looks has it open for a moment. Own engineering
# value, not published.
LID_STEADY_S = 2.0
BY_SWITCH = "switch"


def looked_at(state: State, readings: Readings, events: list[Event]) -> State:
    """The state after a look at both; adds what happened."""
    if readings.stop is not None and not state.switches.is_pressed:
        state = _stop(state, readings.stop, events)
    if readings.lid is not None:
        state = _lid(state, readings.lid, events)
    return state


def _stop(state: State, stop: Reading, events: list[Event]) -> State:
    """A press, or five seconds without a word of the button, is a stop: the run is over for good.

    The stirrer stands, too, whatever the profile says of a stop: a sleeve may be in it.
    """
    switches = state.switches
    if is_known(stop):
        switches = replace(switches, readable_s=state.run_s - stop.age_s)
    is_pressed = is_known(stop) and stop.value < ACTIVE
    if not is_pressed and state.run_s - switches.readable_s <= STALE_AFTER_S:
        return replace(state, switches=switches)
    switches = replace(switches, is_pressed=True, is_unread=not is_pressed)
    what, action = button_sentences(switches)
    events.append(Event(name=EventName.BUTTON_PRESSED, facts={"what": what, "action": action}))
    return replace(
        state,
        mode=move(state.mode, Trigger.STOP) or state.mode,
        switches=switches,
    )


def _lid(state: State, lid: Reading, events: list[Event]) -> State:
    """A lid that is steadily otherwise than believed is believed; one that can't be read isn't."""
    is_open = lid.value < ACTIVE
    is_believed = is_open is math.isfinite(state.hands.lid_on_loss_share)
    if state.belief is None or not is_known(lid) or is_believed:
        return replace(state, switches=replace(state.switches, lid_same_s=state.run_s))
    if state.run_s - state.switches.lid_same_s < LID_STEADY_S:
        return state
    belief, hands = covered(state.belief, state.hands, is_open=is_open)
    deed = Deed.LID_OPEN if is_open else Deed.LID_CLOSED
    events.append(Event(name=EventName.DEED_ANNOUNCED, facts={"deed": str(deed), "by": BY_SWITCH}))
    switches = replace(state.switches, lid_same_s=state.run_s)
    return replace(state, belief=belief, hands=hands, switches=switches)


def is_known(reading: Reading) -> bool:
    """Whether it says anything, of a moment that isn't long past."""
    return (
        reading.fault is Fault.NONE
        and math.isfinite(reading.value)
        and reading.age_s <= STALE_AFTER_S
    )
