"""What the document prints of an ordeal is what ordeals of two faults at a time are drawn from."""

import re
from pathlib import Path

from controller.trials.expectations import EXPECTATIONS
from controller.trials.ordeal_draws import WORST
from controller.wiring import BY_WORD

DOCUMENT = Path(__file__).resolve().parents[2] / "controller" / "README.md"


def test_what_did_harm_untold_is_among_the_worst() -> None:
    text = DOCUMENT.read_text(encoding="utf-8")
    table = text.partition("<!-- ordeal -->")[2].partition("<!-- end -->")[0]
    rows = re.findall(r"^([a-z]+(?:-[a-z]+)+) +\d.* (\d+)$", table, re.MULTILINE)
    assert {BY_WORD[word] for word, _ in rows} == set(EXPECTATIONS)
    harmful = {BY_WORD[word] for word, missed in rows if int(missed)}
    assert harmful
    assert {fault for fault in harmful if not EXPECTATIONS[fault].by_hand} <= set(WORST)
