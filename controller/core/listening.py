"""Listening to people: switches at the machine, then requests in their order.

Responsible for handing each to its own rules; not for those rules (switches, requests, heeding).
"""

from controller.core.alarms import acknowledged
from controller.core.going_back import gone_back
from controller.core.heeding import heed
from controller.core.leaving import HOW, MOST_S, may_leave
from controller.core.machine import Machine
from controller.core.profile import Profile
from controller.core.records import replace
from controller.core.requests import ADDS_ENERGY, consider, refusal
from controller.core.signals import Readings, Request, Verb
from controller.core.start_proof import told_kind
from controller.core.state import Alarm, Event, EventName, Mode, State
from controller.core.switches import looked_at


def listen(
    state: State, profile: Profile, machine: Machine, readings: Readings, events: list[Event]
) -> State:
    """See what was pressed, grant or refuse what people ask, and heed what they announce."""
    state = looked_at(state, readings, events)
    for request in readings.requests:
        if request.verb is Verb.ANNOUNCE:
            state, event = heed(state, request, machine)
            events.append(event)
            continue
        if request.verb is Verb.LEAVE:
            state = _asked_to_leave(state, profile, machine, request, events)
            continue
        if state.switches.is_pressed and request.verb in ADDS_ENERGY:
            events.append(refusal(request, "the stop button was pressed"))
            continue
        outcome = consider(request, state.mode, state.progress)
        events += outcome.events
        if outcome.acknowledge:
            state = _acknowledge(state, request, events)
        proof = told_kind(state.proof, outcome.events, profile)
        state = replace(state, mode=outcome.mode, progress=outcome.progress, proof=proof)
        if outcome.mode is Mode.RUNNING:
            state = gone_back(state, outcome.events, profile, machine, events)
    return state


def _asked_to_leave(
    state: State, profile: Profile, machine: Machine, request: Request, events: list[Event]
) -> State:
    """Answer whoever wants to know; it changes nothing."""
    if not 0.0 < request.for_s <= MOST_S:
        events.append(refusal(request, f"a break is up to {MOST_S / 3600.0:.0f} h; say {HOW}"))
        return state
    answer = may_leave(state, profile, machine, request.for_s)
    facts: dict[str, str | float | bool] = {"for_s": request.for_s, "by": str(request.source)}
    facts |= {"may": str(answer.may), "answer": answer.text}
    events.append(Event(name=EventName.LEAVE_JUDGED, facts=facts))
    return replace(state, advice=replace(state.advice, leave=answer.text))


def _acknowledge(state: State, request: Request, events: list[Event]) -> State:
    """Somebody has seen every trip and alarm; what is latched stays so."""
    trips, notices, by = state.trips, state.notices, {"by": str(request.source)}
    if any(trip.alarm is Alarm.UNACKNOWLEDGED for trip in trips):
        trips = tuple(replace(trip, alarm=Alarm.ACKNOWLEDGED) for trip in trips)
        events.append(Event(name=EventName.TRIP_ACKNOWLEDGED, facts={**by}))
    if any(notice.alarm is not Alarm.ACKNOWLEDGED for notice in notices):
        notices = acknowledged(notices)
        events.append(Event(name=EventName.ALARM_ACKNOWLEDGED, facts={**by}))
    return replace(state, trips=trips, notices=notices)
