"""What an answer or an announcement of a tick makes of what is known of bath and bowl.

Responsible for whether the interlocks count anew for it; not for what may be announced (heeding)
nor for what it means to the estimate (hands).
"""

import math

from controller.core.hands import answered
from controller.core.heeding import is_anchored, is_borne_out, said_from_afar
from controller.core.profile import Action
from controller.core.records import replace
from controller.core.signals import Source
from controller.core.state import ENDED, Event, EventName, State

TOUCHED = frozenset({str(Action.SWAP_WATER), str(Action.ADD_SEED)})


def touched(before: State, state: State, events: list[Event]) -> State:
    """What an answer or an announcement of this tick says of bath and bowl.

    It is knowledge, whoever said it. But the interlocks count anew only for a person at the
    machine, or for a swap that the bath itself bears out: a telephone has nobody's hands.
    """
    was_asked = _was_asked(before, state)
    is_near = was_asked and any(map(_is_said_near, events))
    if was_asked and not is_near:
        state = said_from_afar(state)
    is_shown = is_borne_out(state)
    if is_shown:
        state = replace(state, hands=replace(state.hands, far_c=math.nan))
    counts_anew = is_near or is_shown or is_anchored(state)
    memory, ask = state.watch.memory, before.progress.ask
    if counts_anew != memory.touched:
        memory = replace(memory, touched=counts_anew)
        state = replace(state, watch=replace(state.watch, memory=memory))
    if was_asked and ask is not None and state.belief is not None:
        return replace(state, belief=answered(state.belief, ask))
    return state


def _is_said_near(event: Event) -> bool:
    return event.name is EventName.QUESTION_ANSWERED and event.facts["by"] == Source.LOCAL


def _was_asked(before: State, after: State) -> bool:
    """Whether the question that this tick closed had the cook change bath or bowl.

    Told by the open question alone: a phase that ends in the same tick forgets what was answered.
    """
    ask = before.progress.ask
    return (
        ask is not None
        and after.progress.ask is not ask
        and after.mode not in ENDED
        and str(ask.action) in TOUCHED
    )
