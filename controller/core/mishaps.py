"""What goes wrong with a batch, by name, and what the possible batches are like afterwards.

Responsible for the table of mishaps and for the history that each stands for; not for what to do
about them (rescuing). A run needs none of it: it knows what its bowl has been through.
"""

import math
from collections.abc import Callable
from statistics import NormalDist

from msgspec import Struct

from controller.core.ahead import STEP_S
from controller.core.batches import COUNT, TRAITS
from controller.core.chocolate import CHOCOLATE_J_PER_KG_K, LATENT_J_PER_KG
from controller.core.crystallising import LUMP_SOLID, MELTED, Crystals, grown, joined
from controller.core.profile import Profile
from controller.core.tempering import MOST_V

Bank = tuple[Crystals, ...]

# Own engineering values, not published.
GOLDEN = 0.6180339887498949  # spreads batches evenly, whatever else they differ in
TEMPERED_V = (0.006, 0.03)  # of a batch that was in temper
THICK_V = (0.04, 0.10)  # of one that flows no more
TEMPERED_SITES = 0.6
COOLING_S = 900.0  # from melted to where it was cooled to, about
SETTLES_S = 600.0  # after seed or a top-up, until somebody looks
SET_C = 26.0  # a bowl that has stood and is colder than this has set
STOOD_S = 300.0
FALLS_S = 120.0  # cold pieces cool the bowl
COMES_S = 300.0  # and colder water brings it down to work
KITCHEN_C = 20.0  # as warm as seed that was put in
OFF_SD_K = 0.5  # of a temperature that somebody remembers
OFF_K = tuple(OFF_SD_K * NormalDist().inv_cdf((at + 0.5) * GOLDEN**2 % 1.0) for at in range(COUNT))


class Window(Struct, frozen=True, kw_only=True):
    """The temperatures that a chocolate is tempered by, °C."""

    melt_c: float
    cool_c: float
    work_c: float
    never_above_c: float  # its bowl
    softer_k: float  # by how much it melts lower than dark chocolate

    @property
    def seed_c(self) -> float:
        """Seed that goes in at this or below keeps part of its crystals."""
        return SEED_AT_C - self.softer_k


SEED_AT_C = 33.8  # form V melts there: Wille & Lutton, J. Am. Oil Chem. Soc. 43:491 (1966)


def window_of(profile: Profile, softer_k: float) -> Window:
    """The temperatures that a profile tempers by."""
    first, last = profile.phases[0], profile.phases[-1]
    return Window(
        melt_c=first.bowl_target_c,
        cool_c=min(phase.bowl_target_c for phase in profile.phases),
        work_c=last.bowl_target_c,
        never_above_c=profile.bowl_never_above_c,
        softer_k=softer_k,
    )


class Told(Struct, frozen=True, kw_only=True):
    """What somebody says of a mishap. What was not said is NaN."""

    at_c: float = math.nan  # how warm or cold the bowl was
    for_s: float = math.nan
    share: float = math.nan  # of seed or top-up, over what was in the bowl


class Mishap(Struct, frozen=True, kw_only=True):
    """One thing that goes wrong."""

    word: str
    what: str  # one sentence: how it shows
    made: Callable[[Told, Window], Bank]
    usual: Told  # stands in for what was not said
    range_c: tuple[float, float] = (math.nan, math.nan)  # of `at_c` where one is taken
    takes_time: bool = False
    takes_share: bool = False
    is_set: bool = False  # the whole bowl
    is_ruined: bool = False  # nothing brings it back to temper
    ends_at_work: bool = (
        True  # the bowl is at its working temperature afterwards, else where it was
    )
    makes: str = ""  # of what is ruined: what it is still good for

    def filled(self, told: Told, window: Window) -> Told:
        """What was said, and the usual of what wasn't."""
        usual, at_c = self.usual, told.at_c
        if math.isnan(at_c):
            at_c = usual.at_c - window.softer_k if usual.at_c == usual.at_c else math.nan
        return Told(
            at_c=at_c,
            for_s=usual.for_s if math.isnan(told.for_s) else told.for_s,
            share=usual.share if math.isnan(told.share) else told.share,
        )

    def bowl_c(self, told: Told, window: Window) -> float:
        """Where the bowl is afterwards, unless somebody says so."""
        return window.work_c if self.ends_at_work or math.isnan(told.at_c) else told.at_c


def _spread(low: float, high: float, sites: float) -> Bank:
    """Possible batches with form V evenly from low to high, on a logarithmic scale."""
    found = []
    for at in range(COUNT):
        form_v = low * (high / low) ** ((at + 0.5) * GOLDEN % 1.0)
        found.append((form_v, 0.0, sites, 0.0, form_v))
    return tuple(found)


def tempered() -> Bank:
    """Batches that are in temper, as far as anybody knows."""
    return _spread(*TEMPERED_V, TEMPERED_SITES)


def melted() -> Bank:
    """Batches without any crystal."""
    return (MELTED,) * COUNT


def _left(
    bank: Bank, at_c: float, span_s: float, window: Window, *, is_stirred: bool = True
) -> Bank:
    """Batches left at a temperature for a while."""
    return moved(bank, (at_c, at_c), span_s, window, is_stirred=is_stirred)


def moved(
    bank: Bank,
    way_c: tuple[float, float],
    span_s: float,
    window: Window,
    *,
    is_stirred: bool = True,
) -> Bank:
    """Batches on their way from one temperature to another, as somebody's thermometer has it."""
    if not span_s > 0.0:
        return bank
    from_c, to_c = way_c
    steps = math.ceil(span_s / STEP_S)
    for step in range(steps):
        dark_c = from_c + (step + 0.5) / steps * (to_c - from_c) + window.softer_k
        bank = tuple(
            grown(one, trait, dark_c + off_k, span_s / steps, is_stirred=is_stirred)
            for one, trait, off_k in zip(bank, TRAITS, OFF_K, strict=True)
        )
    return bank


def _too_warm(told: Told, window: Window) -> Bank:
    return _left(tempered(), told.at_c, told.for_s, window)


def _too_thick(told: Told, window: Window) -> Bank:  # noqa: ARG001 - the table's contract
    return _spread(*THICK_V, 1.0)


def _no_seed(told: Told, window: Window) -> Bank:
    bank = moved(melted(), (window.melt_c, window.work_c), COOLING_S, window)
    return _left(bank, window.work_c, told.for_s, window)


def _seeded(told: Told, window: Window) -> Bank:
    """Seed that came in at a temperature, then the way to work."""
    bank = moved(melted(), (window.melt_c, told.at_c), COOLING_S, window)
    part = told.share / (1.0 + told.share)
    bank = tuple(joined(one, part, is_set=True) for one in bank)
    falls_k = part * (told.at_c - KITCHEN_C + LATENT_J_PER_KG / CHOCOLATE_J_PER_KG_K)
    fallen_c = max(window.work_c, told.at_c - falls_k)
    bank = moved(bank, (told.at_c, fallen_c), FALLS_S, window)
    bank = moved(bank, (fallen_c, window.work_c), COMES_S, window)
    return _left(bank, window.work_c, STOOD_S, window)


def _cooled(told: Told, window: Window) -> Bank:
    """A melt that was cooled so far, for so long, and warmed again."""
    bank = moved(melted(), (window.melt_c, told.at_c), COOLING_S, window)
    bank = _left(bank, told.at_c, told.for_s, window)
    return moved(bank, (told.at_c, window.work_c), SETTLES_S, window)


def _cut(told: Told, window: Window) -> Bank:
    """Without heat and stirring, down to a temperature."""
    way_c = (window.work_c, told.at_c)
    return moved(tempered(), way_c, told.for_s, window, is_stirred=False)


def _stood(told: Told, window: Window) -> Bank:
    return _left(tempered(), window.work_c, told.for_s, window, is_stirred=False)


def _thinned(told: Told, window: Window) -> Bank:
    part = told.share / (1.0 + told.share)
    bank = tuple(joined(one, part, is_set=False) for one in tempered())
    return _left(bank, told.at_c, SETTLES_S, window)


def _set(told: Told, window: Window) -> Bank:  # noqa: ARG001 - the table's contract
    return ((LUMP_SOLID, 0.0, 1.0, 0.0, LUMP_SOLID),) * COUNT


def _unknown(told: Told, window: Window) -> Bank:  # noqa: ARG001 - the table's contract
    """Anything from nothing to a little too much, some of it in the wrong form."""
    return tuple(
        (form_v, 0.02 * (at % 2), TEMPERED_SITES, 0.0, form_v)
        for at, (form_v, *_) in enumerate(_spread(1e-4, 2.0 * MOST_V, TEMPERED_SITES))
    )


# Ranges and what is usual: own engineering values, not published. How it shows, and what is made of
# what is lost: common practice, no source, unless one stands beside it.
MISHAPS: tuple[Mishap, ...] = (
    Mishap(
        word="too-warm",
        what="the bowl was too warm for a while",
        made=_too_warm,
        usual=Told(at_c=34.5, for_s=600.0),
        range_c=(31.0, 60.0),
        takes_time=True,
        ends_at_work=False,
    ),
    Mishap(
        word="temper-lost",
        what="the good crystals have melted: a smear stays soft or sets streaked",
        made=_too_warm,
        usual=Told(at_c=38.0, for_s=900.0),
        range_c=(34.0, 60.0),
        takes_time=True,
        ends_at_work=False,
    ),
    Mishap(
        word="too-thick",
        what="it drags and sets dull at its working temperature",
        made=_too_thick,
        usual=Told(),
    ),
    Mishap(
        word="too-cool",
        what="the bowl was held too cool for a while",
        made=lambda told, window: _left(tempered(), told.at_c, told.for_s, window),
        usual=Told(at_c=30.0, for_s=1200.0),
        range_c=(22.0, 33.0),
        takes_time=True,
        ends_at_work=False,
    ),
    Mishap(
        word="seed-forgotten",
        what="it came to its working temperature without its seed",
        made=_no_seed,
        usual=Told(for_s=600.0),
        takes_time=True,
    ),
    Mishap(
        word="seed-early",
        what="seed went in while the bowl was so warm that it melted out",
        made=_seeded,
        usual=Told(at_c=40.0, share=0.10),
        range_c=(32.0, 60.0),
        takes_share=True,
    ),
    Mishap(
        word="seed-much",
        what="too much seed went in at or below 34 °C",
        made=_seeded,
        usual=Told(at_c=32.5, share=0.10),
        range_c=(25.0, 34.5),
        takes_share=True,
    ),
    Mishap(
        word="cooled-too-far",
        what="it got colder than it should on the way down",
        made=_cooled,
        usual=Told(at_c=25.0, for_s=600.0),
        range_c=(14.0, 29.0),
        takes_time=True,
    ),
    Mishap(
        word="cooled-too-little",
        what="it was not cooled far enough",
        made=_cooled,
        usual=Told(at_c=30.5, for_s=300.0),
        range_c=(27.0, 34.0),
        takes_time=True,
    ),
    Mishap(
        word="cooled-too-briefly",
        what="it was warmed again as soon as it had come down",
        made=_cooled,
        usual=Told(at_c=28.0, for_s=30.0),
        range_c=(24.0, 31.0),
        takes_time=True,
    ),
    Mishap(
        word="power-gone",
        what="neither heat nor stirrer for a while",
        made=_cut,
        usual=Told(at_c=29.0, for_s=1800.0),
        range_c=(5.0, 36.0),
        takes_time=True,
        ends_at_work=False,
    ),
    Mishap(
        word="stirrer-stood",
        what="it was kept warm and not stirred",
        made=_stood,
        usual=Told(for_s=1200.0),
        takes_time=True,
    ),
    Mishap(
        word="topped-up-much",
        what="too much melted chocolate was poured in",
        made=_thinned,
        usual=Told(at_c=33.0, share=0.5),
        range_c=(27.0, 45.0),
        takes_share=True,
        ends_at_work=False,
    ),
    Mishap(
        word="set-in-bowl",
        what="it has set in the bowl",
        made=_set,
        usual=Told(at_c=21.0),
        range_c=(0.0, 30.0),
        ends_at_work=False,
        is_set=True,
    ),
    Mishap(
        word="streaked",
        what="the set test was streaked or stayed soft, and nobody knows why",
        made=_unknown,
        usual=Told(),
    ),
    Mishap(
        word="water",
        what="water or steam got in: it goes stiff and grainy within seconds",
        made=_unknown,
        usual=Told(),
        is_ruined=True,  # a little water makes it seize: McGee, On Food and Cooking, 2004
        makes="ganache: warm it to 45 °C with at least a third of its mass of hot cream, and stir",
    ),
    Mishap(
        word="scorched",
        what="it was so hot that it smells burnt or has gone grainy",
        made=_unknown,
        usual=Told(),
        is_ruined=True,
        makes="ganache or baking, through a sieve, if it tastes good; else throw it away",
    ),
)
BY_WORD = {one.word: one for one in MISHAPS}
