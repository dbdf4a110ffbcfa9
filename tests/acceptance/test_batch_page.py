"""The batch page that a run writes at its end, by the real command line."""

from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit


def test_a_try_says_what_to_do_now_and_writes_its_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "page.html"
    words = ["try", "water-trial", "--no-broker", "--journal-dir", str(tmp_path / "runs")]
    code = main([*words, "--page", str(page), "--units", "F"])

    out = capsys.readouterr().out
    assert code == Exit.DONE
    assert "\nDry: Empty bowl and bath" in out
    assert out.endswith(f"Page: {page}\n")
    html = page.read_text(encoding="utf-8")
    assert "Simulated on the bench" in html
    assert "Nothing was to be tempered." in html
    assert "104.0\u00a0°F" in html  # 40 °C


def test_a_page_by_an_odd_name_is_refused_before_anything_runs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["try", "dark", "--no-broker", "--journal-dir", str(tmp_path), "--page", "page.pdf"]
    assert main(words) == Exit.USAGE
    assert "ends in .html" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
