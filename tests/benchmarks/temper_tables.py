"""The tables of the temper benchmark: recall, precision, and whether claims come true.

Responsible for what is counted and its words; not for the runs (temper_cases).
"""

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from controller.core.tempering import Temper
from tests.benchmarks.temper_cases import Said

SURE = 0.8
BINS = (0.65, 0.7, 0.8, 0.9, 0.95, 1.0)
CLASSES = (Temper.NOT_YET, Temper.IN_TEMPER, Temper.UNDER, Temper.OVER, Temper.MELTED_OUT)
UNKNOWN = Temper.UNKNOWN.value
FEW = 20  # fewer verdicts say nothing of a band


def percent(part: float, whole: float) -> str:
    """A share, or a dash of nothing."""
    return f"{100.0 * part / whole:5.1f} %" if whole else "      -"


def sure_of(said: Sequence[Said]) -> list[Said]:
    """Those that claim enough."""
    return [one for one in said if one.confidence >= SURE and one.verdict != UNKNOWN]


def recall(sure: Sequence[Said], word: str, *, of: str) -> float:
    """How much of what is truly `of` is called `word`; 0 of nothing."""
    true = [one for one in sure if one.truth == of]
    return sum(one.verdict == word for one in true) / len(true) if true else 0.0


def balanced(sure: Sequence[Said], word: str) -> float:
    """Precision as it would be were every class as frequent; 0 where it is never said."""
    shares = {of: recall(sure, word, of=of) for of in CLASSES}
    total = sum(shares.values())
    return shares[Temper(word)] / total if total else 0.0


def classes_text(said: Sequence[Said]) -> str:
    """Recall and precision of each class among the verdicts that are sure."""
    sure = sure_of(said)
    lines = [f"{'':16}{'moments':>9}{'sure':>7}{'recall':>10}{'precision':>11}{'balanced':>10}"]
    for word in CLASSES:
        true = [one for one in sure if one.truth == word]
        told = [one for one in sure if one.verdict == word]
        hits = sum(one.verdict == word for one in true)
        whole = sum(one.truth == word for one in said)
        lines.append(
            f"{word.value:16}{whole:9}{len(true):7}"
            f"{percent(hits, len(true)):>10}{percent(hits, len(told)):>11}"
            f"{percent(balanced(sure, word), bool(told)):>10}"
        )
    return "\n".join(lines)


def reliability_text(said: Sequence[Said]) -> str:
    """What confidence was claimed, and how often it came true."""
    lines = [f"{'confidence':16}{'verdicts':>9}{'claimed':>10}{'true':>10}"]
    for low, high in pairwise(BINS):
        part = [one for one in said if low <= one.confidence < high and one.verdict != UNKNOWN]
        claimed = sum(one.confidence for one in part)
        true = sum(one.verdict == one.truth for one in part)
        lines.append(
            f"{low:.2f} to {high:.2f}    {len(part):9}"
            f"{percent(claimed, len(part)):>10}{percent(true, len(part)):>10}"
        )
    return "\n".join(lines)


def brief_text(laws: Sequence[str], said: Sequence[tuple[str, Said]]) -> str:
    """A row for each law, with and without a load: the worst class of each kind, what is unknown.

    The last column is how far the claims of a band are from what came true, at most.
    """
    head = f"{'law':8}{'load':8}{'moments':>9}{'unknown':>9}{'sure':>9}"
    lines = [f"{head}{'least recall':>14}{'least precision':>17}{'claims off by':>15}"]
    for law in laws:
        for has_load in (True, False):
            part = [one for of, one in said if of == law and one.has_load is has_load]
            lines.append(f"{law:8}{'with' if has_load else 'without':8}{_numbers(part)}")
    return "\n".join(lines)


def _numbers(said: Sequence[Said]) -> str:
    sure = sure_of(said)
    unknown = sum(one.verdict == UNKNOWN for one in said)
    recalls = [
        recall(sure, word, of=word) for word in CLASSES if any(one.truth == word for one in sure)
    ]
    precisions = [
        sum(one.truth == word for one in told) / len(told)
        for word in CLASSES
        if (told := [one for one in sure if one.verdict == word])
    ]
    return (
        f"{len(said):9}{percent(unknown, len(said)):>9}{percent(len(sure), len(said)):>9}"
        f"{percent(min(recalls, default=0.0), 1.0):>14}"
        f"{percent(min(precisions, default=0.0), 1.0):>17}{100.0 * off_by(said):12.1f} pt"
    )


def off_by(said: Sequence[Said]) -> float:
    """How far the claims of a band are from what came true, at most; bands of 20 and more."""
    worst = 0.0
    for low, high in pairwise(BINS):
        part = [one for one in said if low <= one.confidence < high and one.verdict != UNKNOWN]
        if len(part) >= FEW:
            claimed = sum(one.confidence - (one.verdict == one.truth) for one in part)
            worst = max(worst, abs(claimed) / len(part))
    return worst


def summary(said: Sequence[Said]) -> str:
    """All tables."""
    unknown = sum(one.verdict == UNKNOWN for one in said)
    sure = len(sure_of(said))
    head = (
        f"{len(said)} moments; {percent(unknown, len(said)).strip()} unknown, "
        f"{percent(sure, len(said)).strip()} at a confidence of {SURE} or more"
    )
    return "\n\n".join((head, classes_text(said), reliability_text(said)))


def mistakes_text(said: Sequence[Said]) -> str:
    """Which sure verdicts were wrong, by mishap, moment, verdict and truth."""
    wrong = Counter(
        (one.mishap, one.moment, one.verdict, one.truth)
        for one in sure_of(said)
        if one.verdict != one.truth
    )
    return "\n".join(f"{count:4}  {', '.join(key)}" for key, count in wrong.most_common())


def moment_text(one: Said) -> str:
    """One moment in one line."""
    return (
        f"{one.mishap:16}{one.moment:24}{one.verdict:15}{one.confidence:5.2f}  "
        f"{one.truth:15}V {100 * one.form_v:6.2f} %, believed {100 * one.believed_v:6.2f} %"
        f", unstable {100 * one.unstable:5.2f} %, {'with' if one.has_load else 'without'} load"
    )
