"""What must be true before a latched trip may be cleared, cause by cause, in one table.

Of several causes all must be true, whichever came first: a mild one never clears a graver one.

Responsible for the rules; not for asking a person (commands/guarding) or clearing anything
(keeper). No rule lets a trip clear itself, nor lets anybody clear it over the network: the run that
tripped has ended, and whoever clears it stands at the machine. Guard and command both go by it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from controller.guard.decision import Cause

# Own engineering values, not published.
SOUND_S = 10  # a thermometer must have said something believable for so long


class Confirm(StrEnum):
    """What a person says that they did: the word that they type. The gravest comes last."""

    LOOKED = "yes"  # looked at the machine and did what the message says
    FILLED = "filled"  # saw water up to the mark
    INSPECTED = "inspected"  # unplugged it, found the cause and mended it


class Proof(StrEnum):
    """What is measured besides, whatever a person says."""

    BATH = "the bath's thermometer"
    BOWL = "the bowl's thermometer"
    GUARD = "the guard's thermometer"
    COOL = "a bath under the machine's limit, by the guard's thermometer"
    DEAD = "a heater that is dead while it is told to be off, by the mains-live input"


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """What must be true before all that is latched together is cleared."""

    musts: tuple[str, ...]
    confirm: Confirm = Confirm.LOOKED
    proofs: tuple[Proof, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ResetRule:
    """What must be true before this cause is cleared."""

    must: str  # one sentence
    confirm: Confirm = Confirm.LOOKED
    proofs: tuple[Proof, ...] = ()


_MENDED = Confirm.INSPECTED
_BATH, _BOWL = (Proof.BATH,), (Proof.BOWL,)
_SWITCH = "Somebody has unplugged the machine and replaced or mended what kept it heating."
_LIVE = "Somebody has unplugged it and mended what kept it heating, or what said so falsely."
_HOT = "Somebody has found out what overheated and mended it, and it has cooled."
_CONTACT = "The {0} probe has given a believable value again for 10 s."
_GUARD_VALUE = "The guard's thermometer has given a believable value again for 10 s."
_PLACES = "Somebody has seen both probes in their own places and the bowl in its bath."
_BESIDE = "Somebody has seen bowl and probes in place, and that no probe is wrong beside another."

# By the controller's word for its trip (core/interlock_rows.Cause), and by the guard's own causes.
RULES: dict[str, ResetRule] = {
    "relay-stuck-on": ResetRule(must=_SWITCH, confirm=_MENDED, proofs=(Proof.COOL, Proof.DEAD)),
    "bath-over-limit": ResetRule(must=_HOT, confirm=_MENDED, proofs=(Proof.COOL,)),
    "bowl-over-limit": ResetRule(must=_HOT, confirm=_MENDED, proofs=_BOWL),
    "bath-probe-jumping": ResetRule(must=_CONTACT.format("bath"), proofs=_BATH),
    "bath-probe-missing": ResetRule(must=_CONTACT.format("bath"), proofs=_BATH),
    "bath-probe-not-a-number": ResetRule(must=_CONTACT.format("bath"), proofs=_BATH),
    "bath-probe-stale": ResetRule(must=_CONTACT.format("bath"), proofs=_BATH),
    "bath-probe-out-of-range": ResetRule(must=_CONTACT.format("bath"), proofs=_BATH),
    "bath-probe-frozen": ResetRule(
        must="Somebody has seen the bath probe in the water, and it gives believable values.",
        proofs=_BATH,
    ),
    "bowl-probe-jumping": ResetRule(must=_CONTACT.format("bowl"), proofs=_BOWL),
    "bowl-probe-missing": ResetRule(must=_CONTACT.format("bowl"), proofs=_BOWL),
    "bowl-probe-not-a-number": ResetRule(must=_CONTACT.format("bowl"), proofs=_BOWL),
    "bowl-probe-stale": ResetRule(must=_CONTACT.format("bowl"), proofs=_BOWL),
    "bowl-probe-out-of-range": ResetRule(must=_CONTACT.format("bowl"), proofs=_BOWL),
    "bowl-probe-frozen": ResetRule(
        must="Somebody has seen the bowl probe in the chocolate, and it gives believable values.",
        proofs=_BOWL,
    ),
    "heat-without-effect": ResetRule(
        must="Somebody has unplugged it, seen water over the element, and found the fault.",
        confirm=_MENDED,
    ),
    "heater-power-wrong": ResetRule(
        must="Somebody has unplugged the machine and seen that element and machine file agree.",
        confirm=_MENDED,
    ),
    "level-lost": ResetRule(
        must="Somebody has let the heater cool, and seen the bath filled to its mark.",
        confirm=Confirm.FILLED,
    ),
    "stirrer-stopped": ResetRule(
        must="Somebody has seen that the stirrer turns freely, and its sensor is whole."
    ),
    "stirrer-unloaded": ResetRule(must="Somebody has seen belt, coupling and paddle in place."),
    "tick-late": ResetRule(must="Somebody has freed the computer of other work."),
    "phase-late": ResetRule(must="Somebody has looked at batch, water, heater and lid."),
    "run-too-long": ResetRule(must="Somebody has looked at the batch and wants to go on with it."),
    "limits-changed": ResetRule(
        must="Somebody has restarted the computer and tested its memory.", confirm=_MENDED
    ),
    "guard-silent": ResetRule(must="Somebody has found out why the guard fell silent."),
    "guard-latched": ResetRule(must="Somebody has done what the guard's own cause asks for."),
    "bath-probes-disagree": ResetRule(
        must="Somebody has seen both bath thermometers in the water, and both are believable.",
        confirm=_MENDED,
        proofs=(Proof.BATH, Proof.GUARD),
    ),
    "guard-probe-missing": ResetRule(must=_GUARD_VALUE, proofs=(Proof.GUARD,)),
    "guard-probe-frozen": ResetRule(
        must="Somebody has seen the guard's thermometer in the water, and it is believable.",
        proofs=(Proof.GUARD,),
    ),
    "probes-crossed": ResetRule(must=_PLACES, proofs=(Proof.BATH, Proof.BOWL)),
    "bowl-unlike-bath": ResetRule(must=_BESIDE, proofs=(Proof.BATH, Proof.BOWL)),
    "bowl-fell-alone": ResetRule(must=_BESIDE, proofs=_BOWL),
    "kind-wrong": ResetRule(must="Somebody has chosen a profile for what is in the bowl."),
    "probes-apart-cold": ResetRule(
        must="Somebody has seen both bath thermometers in the water, and both are believable.",
        confirm=_MENDED,
        proofs=(Proof.BATH, Proof.GUARD),
    ),
    "bowl-too-cold": ResetRule(
        must="Somebody has let the bowl come to the room's warmth or replaced its probe.",
        proofs=_BOWL,
    ),
    "first-switch-stuck": ResetRule(must=_SWITCH, confirm=_MENDED, proofs=(Proof.DEAD,)),
    "second-switch-stuck": ResetRule(must=_SWITCH, confirm=_MENDED, proofs=(Proof.DEAD,)),
    "heater-unseen": ResetRule(must="Somebody has seen to the sensors that watch the heater."),
    "bowl-not-warmed": ResetRule(must=_PLACES, proofs=(Proof.BATH, Proof.BOWL)),
    Cause.CONTROLLER_LOST: ResetRule(must="Somebody has looked at the batch and at the log."),
    Cause.LEASE_LAPSED: ResetRule(must="Somebody has freed the computer of other work."),
    Cause.BATH_OVER_CAP: ResetRule(must=_HOT, confirm=_MENDED, proofs=(Proof.COOL,)),
    Cause.GUARD_PROBE_LOST: ResetRule(must=_GUARD_VALUE, proofs=(Proof.GUARD,)),
    Cause.HEATER_LIVE_WHEN_OFF: ResetRule(
        must=_LIVE, confirm=_MENDED, proofs=(Proof.COOL, Proof.DEAD)
    ),
    Cause.HEATER_DEAD_WHEN_ON: ResetRule(
        must="Somebody has unplugged the machine and mended fuse, cut-out, switch or wire.",
        confirm=_MENDED,
    ),
    Cause.GUARD_RESTARTED: ResetRule(must="Somebody has looked at the batch."),
    Cause.LATCH_UNREADABLE: ResetRule(must="Somebody has seen to the disk of the latch file."),
}
# A word that this table does not know is of a newer controller, and may be the gravest.
STRICTEST = ResetRule(
    must="Somebody has found the cause and mended it.", confirm=_MENDED, proofs=(Proof.COOL,)
)


def rule_of(cause: str) -> ResetRule:
    """The rule for one of the guard's causes, or for the controller's word for a trip."""
    return RULES.get(cause, STRICTEST)


def demanded(causes: Iterable[str]) -> Demand:
    """What all of them demand together: the gravest word, and whatever any of them has measured."""
    rules = [rule_of(cause) for cause in causes]
    words = [rule.confirm for rule in rules]
    return Demand(
        musts=tuple(dict.fromkeys(rule.must for rule in rules)),
        confirm=max(words, key=list(Confirm).index, default=Confirm.LOOKED),
        proofs=tuple(dict.fromkeys(proof for rule in rules for proof in rule.proofs)),
    )
