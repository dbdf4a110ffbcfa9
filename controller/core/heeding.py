"""Heeding what people announce: who may, how often, and what it may change.

Responsible for keeping an announcement to knowledge. It never gives heat a longer time: what the
interlocks count begins again only for what a person at the machine says, and seldom, so that no
number of announcements can keep an interlock from seeing.
"""

import math

from controller.core.announcement import Announcement, Deed, is_possible
from controller.core.estimate import Belief
from controller.core.hands import chocolate_added, lid_closed, lid_opened, water_swapped
from controller.core.machine import Machine
from controller.core.records import replace
from controller.core.requests import refusal
from controller.core.signals import Request, Source
from controller.core.state import Event, EventName, Hands, State
from controller.core.thermal import BOWL, LOSS
from controller.core.words import mass_text

# Own engineering values, not published.
PER_MINUTE = 3
# From afar, between two swaps of water: a bath said again and again to be cold would be heated,
# each time until its thermometer has spoken.
SWAP_GAP_S = 300.0
MOST_BATCHES = 2.0  # what is added at once; more is a slip between g and kg, or another machine's
MINUTE_S = 60.0
PAUSED_MOST_S = 600.0  # a stirrer said to be paused and forgotten counts as turning after this
ANCHOR_GAP_S = 600.0  # between two after which the interlocks count anew
SHOWN_K, SHOWN_WITHIN_S = 2.0, 60.0  # a swap said from afar shows by a fall so large, so soon
DISTURBS = frozenset({Deed.ADDED, Deed.TOPPED_UP, Deed.SWAPPED})


def heed(state: State, request: Request, machine: Machine) -> tuple[State, Event]:
    """The state after an announcement, or as it was, and the event that says which."""
    said, belief, hands = request.announcement, state.belief, state.hands
    lately = tuple(at_s for at_s in hands.said_at_s if at_s > state.run_s - MINUTE_S)
    if said is None or not is_possible(said):
        return state, refusal(request, "it says nothing that can be")
    if belief is None:
        return state, refusal(request, "there is no run to announce it to")
    if said.mass_kg > MOST_BATCHES * machine.batch_kg:
        batch = mass_text(machine.batch_kg)
        return state, refusal(request, f"that is over twice the batch of {batch}; mind g and kg")
    if len(lately) >= PER_MINUTE:
        return state, refusal(request, f"more than {PER_MINUTE} a minute are not taken")
    is_swap, is_near = said.deed is Deed.SWAPPED, request.source is Source.LOCAL
    if is_swap and not is_near and state.run_s - hands.swapped_s < SWAP_GAP_S:
        minutes = f"{SWAP_GAP_S / MINUTE_S:.0f} minutes"
        return state, refusal(request, f"from afar one swap in {minutes} is taken")
    belief, hands = _changed(belief, hands, said, state, machine)
    is_anchor = said.deed in DISTURBS and is_near and state.run_s - hands.anchored_s >= ANCHOR_GAP_S
    hands = replace(
        hands,
        said_at_s=(*lately, state.run_s),
        swapped_s=state.run_s if is_swap else hands.swapped_s,
        anchored_s=state.run_s if is_anchor else hands.anchored_s,
    )
    event = Event(name=EventName.DEED_ANNOUNCED, facts={"deed": said.words, "by": request.source})
    return replace(state, belief=belief, hands=hands), event


def is_anchored(state: State) -> bool:
    """Whether this tick's announcement lets the interlocks count anew."""
    return state.hands.anchored_s == state.run_s


def said_from_afar(state: State) -> State:
    """Somebody who need not be there answered that the bath was changed: what it was till now."""
    return replace(state, hands=replace(state.hands, far_s=state.run_s, far_c=state.bath_c))


def is_borne_out(state: State) -> bool:
    """Whether the bath shows what was said from afar: only cold water lowers it so much, so soon.

    Else whoever answers by telephone, having swapped the water, would be told that two thermometers
    of one bath disagree.
    """
    hands = state.hands
    is_soon = state.run_s - hands.far_s <= SHOWN_WITHIN_S
    return is_soon and state.bath_c <= hands.far_c - SHOWN_K


def _changed(
    belief: Belief, hands: Hands, said: Announcement, state: State, machine: Machine
) -> tuple[Belief, Hands]:
    """Belief and hands after a deed."""
    match said.deed:
        case Deed.ADDED | Deed.TOPPED_UP:
            return _filled(belief, said, machine), hands
        case Deed.SWAPPED:
            is_whole = math.isfinite(said.share) and math.isfinite(said.temp_c)
            share = said.share if is_whole else 0.0
            return water_swapped(belief, share, said.temp_c if is_whole else None), hands
        case Deed.STIRRER_PAUSED | Deed.STIRRER_ON:
            stands_s = PAUSED_MOST_S if said.deed is Deed.STIRRER_PAUSED else 0.0
            return belief, replace(hands, stirrer_until_s=state.run_s + stands_s)
        case _:
            return covered(belief, hands, is_open=said.deed is Deed.LID_OPEN)


def _filled(belief: Belief, said: Announcement, machine: Machine) -> Belief:
    """More in the bowl; unless said, set chocolate is as warm as the room, melted as the bowl."""
    is_set = said.deed is Deed.ADDED
    at_c = said.temp_c
    if math.isnan(at_c):
        at_c = machine.room_c if is_set else belief.mean[BOWL]
    return chocolate_added(belief, said.mass_kg / machine.batch_kg, at_c, is_set=is_set)


def covered(belief: Belief, hands: Hands, *, is_open: bool) -> tuple[Belief, Hands]:
    """The lid off or on; nothing where it was already."""
    was_open = math.isfinite(hands.lid_on_loss_share)
    if is_open and not was_open:
        return lid_opened(belief), replace(hands, lid_on_loss_share=belief.mean[LOSS])
    if was_open and not is_open:
        return lid_closed(belief, hands.lid_on_loss_share), replace(
            hands, lid_on_loss_share=math.nan
        )
    return belief, hands
