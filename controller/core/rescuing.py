"""How a batch that is out of temper comes back: each possible action fast-forwarded, the cheapest.

Responsible for which actions there are, what each ends in and which is proposed; not for the words
(rescue_words), what went wrong (mishaps) or the fast-forward itself (ahead). Cheapest is what takes
the least time, to within five minutes, then what takes the least chocolate.
"""

import math
from collections.abc import Iterable, Iterator
from itertools import product

from msgspec import Struct

from controller.core.actions import Act, Action, Do, Done, Ending, Move
from controller.core.ahead import Batch, Kitchen, filled, kept, led
from controller.core.batches import EVEN
from controller.core.mishaps import Bank, Window
from controller.core.profile import Phase
from controller.core.tempering import LEAST_V, MOST_UNSTABLE, MOST_V, above, spread_of

# Own engineering values, not published.
SURE = 0.72  # by limits so blurred: in the midst of the window it is 0.8 at most
LEAST = 0.5  # less likely than not is proposed by nobody
EDGE_LN = 0.8  # batches differ more than those of the bank do
LASTS_S = 600.0  # in temper for less is of no use
CHECK_S = 300.0  # at its working temperature, until it can be tried
SEED_STAYS_S = 600.0  # until seed has melted as far as it will
MELTS_S = 600.0  # the shipped profiles' dwell over a melt
SEED_TO_C, MELT_AT_C = 20.0, 40.0  # own choice: seed as it lies in the kitchen, melt as it is kept
WAITS_S = (0.0, 600.0, 1200.0, 1800.0)
WARMS_K = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0)  # over the working temperature, the cap
WARMS_S = (300.0, 900.0)
SEEDS = (0.005, 0.01, 0.015, 0.02, 0.03, 0.05)  # over what is in the bowl
COOLS_S = (120.0, 300.0, 600.0)
TOP_UPS = (0.1, 0.2, 0.3, 0.5)
DOSED = frozenset({Act.SEED, Act.MELT_SEED, Act.TOP_UP})
TOPPED_HELD_K = 1.0  # the trade warms it by 0.3 to 1 K (common practice, no source)
TOPPED_K = 2.0  # a top-up may warm the bowl so far over its working temperature


class Means(Struct, frozen=True, kw_only=True):
    """What is at hand."""

    seed: bool = True
    melt: bool = True  # untempered melt for a top-up
    seed_at_c: float = SEED_TO_C
    melt_at_c: float = MELT_AT_C


ALL = Means()


def ahead_of(
    batch: Batch, action: Action, kitchen: Kitchen, weights: tuple[float, ...] = EVEN
) -> Ending:
    """What becomes of a batch by an action."""
    steps = []
    for move in action.moves:
        before, batch = batch, _moved(batch, move, kitchen)
        steps.append(
            Done(
                move,
                before.bowl_c,
                batch.spent_s - before.spent_s,
                batch.swapped_kg - before.swapped_kg,
                batch.added_kg - before.added_kg,
            )
        )
        if math.isinf(batch.spent_s):
            break
    later = kept(batch, kitchen, LASTS_S) if math.isfinite(batch.spent_s) else batch
    form_v, _ = spread_of(batch.bank, weights)
    return Ending(
        action=action,
        steps=tuple(steps),
        confidence=min(_chance(one, weights) for one in (batch, later)),
        takes_s=batch.spent_s,
        added_kg=batch.added_kg,
        swapped_kg=batch.swapped_kg,
        form_v=form_v,
    )


def _chance(batch: Batch, weights: tuple[float, ...]) -> float:
    """How likely a batch is in temper."""
    if not math.isfinite(batch.spent_s):
        return 0.0
    return likelihood(batch.bank, weights)


def likelihood(bank: Bank, weights: tuple[float, ...]) -> float:
    """How likely possible batches are in temper, by limits that are blurred on purpose."""
    return math.fsum(
        weight
        * above(form_v, LEAST_V, EDGE_LN)
        * (1.0 - above(form_v, MOST_V, EDGE_LN))
        * (1.0 - above(unstable, MOST_UNSTABLE, EDGE_LN))
        for (form_v, unstable, *_), weight in zip(bank, weights, strict=True)
    )


def _moved(batch: Batch, move: Move, kitchen: Kitchen) -> Batch:
    match move.do:
        case Do.LEAD:
            return led(batch, kitchen, move.temp_c)
        case Do.KEEP:
            return kept(batch, kitchen, move.span_s)
        case _:
            is_seed = move.do is Do.SEED
            return filled(batch, kitchen, move.share, move.temp_c, is_set=is_seed)


def possible(
    batch: Batch, window: Window, kitchen: Kitchen, means: Means = ALL
) -> tuple[Action, ...]:
    """Every action that is thought about; what has set can only be melted."""
    melted = tuple(_melted(window, means))
    if batch.is_set:
        return melted
    return (*_gentle(batch, window, kitchen, means), *melted)


def _gentle(batch: Batch, window: Window, kitchen: Kitchen, means: Means) -> Iterator[Action]:
    """Without melting all of it."""
    work, check = Move(Do.LEAD, window.work_c), Move(Do.KEEP, span_s=CHECK_S)
    for span_s in WAITS_S:
        yield Action(act=Act.WAIT, moves=(work, Move(Do.KEEP, span_s=span_s)))
    for over_k, span_s in product(WARMS_K, WARMS_S):
        warm = Move(Do.LEAD, window.work_c + over_k)
        yield Action(act=Act.WARM, moves=(warm, Move(Do.KEEP, span_s=span_s), work, check))
    for share in SEEDS if means.seed else ():
        yield Action(act=Act.SEED, moves=_seeding(batch.bowl_c, share, window, means))
    most = top_up_share(kitchen, window.work_c, means.melt_at_c, window.work_c + TOPPED_K)
    for share in TOP_UPS if means.melt else ():
        if share <= most:
            pour = Move(Do.POUR, means.melt_at_c, share=share)
            yield Action(act=Act.TOP_UP, moves=(work, pour, work, check))
    for span_s in COOLS_S:
        yield Action(act=Act.COOL, moves=_cooling(span_s, window))


def _melted(window: Window, means: Means) -> Iterator[Action]:
    """All of it melted, and tempered again."""
    melt = (Move(Do.LEAD, window.melt_c), Move(Do.KEEP, span_s=MELTS_S))
    for span_s in COOLS_S:
        yield Action(act=Act.MELT, moves=(*melt, *_cooling(span_s, window)))
    if means.seed:
        for share in SEEDS:
            moves = (*melt, *_seeding(window.melt_c, share, window, means))
            yield Action(act=Act.MELT_SEED, moves=moves)


def _cooling(span_s: float, window: Window) -> tuple[Move, ...]:
    return (
        Move(Do.LEAD, window.cool_c),
        Move(Do.KEEP, span_s=span_s),
        Move(Do.LEAD, window.work_c),
        Move(Do.KEEP, span_s=CHECK_S),
    )


def _seeding(bowl_c: float, share: float, window: Window, means: Means) -> tuple[Move, ...]:
    """Seed as soon as the bowl is no warmer than form V's melting."""
    down = (Move(Do.LEAD, window.seed_c),) if bowl_c > window.seed_c else ()
    return (
        *down,
        Move(Do.SEED, means.seed_at_c, share=share),
        Move(Do.LEAD, window.work_c),
        Move(Do.KEEP, span_s=SEED_STAYS_S),
    )


def top_up_share(kitchen: Kitchen, bowl_c: float, melt_c: float, most_c: float) -> float:
    """The most melt of `melt_c` that a bowl takes without passing `most_c`, over what it holds.

    The bowl's own heat is left out of a bowl that holds nothing else: what is warm is chocolate
    and bowl, what comes in chocolate.
    """
    if melt_c <= most_c:
        return math.inf
    return max(0.0, most_c - bowl_c) / (melt_c - most_c) / kitchen.bowl_k_share


def dosed(found: Iterable[Ending]) -> list[Ending]:
    """Of each way to add something only the likeliest dose: a few grams are no matter."""
    best: dict[Act, Ending] = {}
    others = []
    for one in found:
        act = one.action.act
        if act not in DOSED:
            others.append(one)
        elif act not in best or one.confidence > best[act].confidence:
            best[act] = one
    return [*others, *best.values()]


def topped_most_c(phase: Phase) -> float:
    """How warm a top-up may make the bowl of a phase for a moment, °C."""
    return max(phase.warm_to_c or phase.bowl_target_c, phase.bowl_target_c + TOPPED_HELD_K)


def cheapest(endings: Iterable[Ending]) -> Ending | None:
    """The cheapest that is sure enough; else the likeliest, if it is likelier than not."""
    found = dosed(endings)
    sure = [one for one in found if one.confidence >= SURE]
    if sure:
        return min(sure, key=lambda one: one.cost)
    best = max(found, key=lambda one: one.confidence, default=None)
    return best if best is not None and best.confidence >= LEAST else None


def endings(
    batch: Batch,
    window: Window,
    kitchen: Kitchen,
    *,
    weights: tuple[float, ...] = EVEN,
    means: Means = ALL,
) -> tuple[Ending, ...]:
    """What each possible action ends in."""
    actions = possible(batch, window, kitchen, means)
    return tuple(ahead_of(batch, one, kitchen, weights) for one in actions)


def melting(found: Iterable[Ending]) -> Ending | None:
    """The surest way by melting all of it: what is left where the cheapest has failed.

    A machine that is not believed to get that warm has none.
    """
    melts = [one for one in found if one.action.act in {Act.MELT, Act.MELT_SEED}]
    ways = [one for one in melts if math.isfinite(one.takes_s)]
    return max(ways, key=lambda one: one.confidence, default=None)
