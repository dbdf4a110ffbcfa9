"""The batch page that a run writes at its end, by the real command line."""

from pathlib import Path

import pytest

from controller.book.notes import read_notes
from controller.commands.main import main
from controller.errors import Exit


def test_a_try_says_what_to_do_now_and_writes_its_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "page.html"
    words = ["try", "water-trial", "--no-broker", "--journal-dir", str(tmp_path / "runs")]
    code = main([*words, "--page", str(page), "--units", "F", "--humidity", "72"])

    out = capsys.readouterr().out
    assert code == Exit.DONE
    assert "\nDry: Empty bowl and bath" in out
    assert out.endswith(f"Page: {page}\n")
    noted = read_notes(next((tmp_path / "runs").glob("*.jsonl")))
    assert (noted.room_c, noted.humidity) == (20.0, 0.72)  # for a page that is made later
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


def test_a_page_in_a_folder_that_is_not_there_is_refused_before_anything_runs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "missing" / "page.html"
    words = ["try", "dark", "--no-broker", "--journal-dir", str(tmp_path), "--page", str(page)]
    assert main(words) == Exit.NO_PERMISSION
    assert f"there is no folder {page.parent}; make it" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_humidity_that_is_none_is_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["try", "dark", "--humidity", "720 %"])
    assert "should be from 5 to 100 %" in capsys.readouterr().err
