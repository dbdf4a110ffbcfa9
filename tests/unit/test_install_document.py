"""What hardware/INSTALL.md tells people to type: a copy of the book reads when it is restored."""

import re
import shlex
import subprocess
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from tests.helpers.batch import a_header, write_batch

DOCUMENT = Path(__file__).resolve().parents[2] / "hardware" / "INSTALL.md"
RECORD = "20310203T100000Z-dark-ab12"


def told(mark: str) -> list[str]:
    """The command between two marks."""
    text = DOCUMENT.read_text(encoding="utf-8")
    block = text.partition(f"<!-- {mark} -->")[2].partition("<!-- end -->")[0]
    return shlex.split(block.split("```sh\n")[1].split("```")[0])


def typed(mark: str, root: Path, folder: Path) -> None:
    """The command as it stands there, but without sudo and for another root."""
    words = told(mark)
    assert words.pop(0) == "sudo"
    assert words.count("/") == 1
    words = [str(root) if word == "/" else word for word in words]
    subprocess.run(words, cwd=folder, check=True, capture_output=True, timeout=60)


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A board with a batch in its book, a note on it, a machine file and a secret."""
    root = tmp_path / "old"
    runs = root / "var/lib/bainward/runs"
    etc = root / "etc/bainward"
    for folder in (runs, etc):
        folder.mkdir(parents=True)
    write_batch(runs / f"{RECORD}.jsonl", a_header())
    (etc / "kitchen.toml").write_text("schema = 1\n", encoding="utf-8")
    (etc / "mqtt-password").write_text("secret\n", encoding="utf-8")
    (etc / "mqtt-password").chmod(0o640)
    return root


def listed(root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    """The book of that board."""
    monkeypatch.setenv("XDG_STATE_HOME", str(root / "var/lib"))
    assert main(["book", "list"]) == Exit.DONE
    assert main(["journal", "verify", str(root / f"var/lib/bainward/runs/{RECORD}.jsonl")]) == 0
    return capsys.readouterr().out.replace(str(root), "")


def test_a_copy_of_the_book_that_is_restored_reads_as_before(
    old: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(old / "var/lib"))
    assert main(["book", "note", "ab12", "--gloss", "glossy", "--remark", "kept cool"]) == Exit.DONE
    capsys.readouterr()
    before = listed(old, monkeypatch, capsys)
    assert "glossy" in before
    new = tmp_path / "new"
    new.mkdir()
    typed("backup", old, tmp_path)
    typed("restore", new, tmp_path)
    assert listed(new, monkeypatch, capsys) == before
    secret = new / "etc/bainward/mqtt-password"
    assert secret.stat().st_mode & 0o777 == 0o640


def test_a_copy_made_in_the_middle_of_a_line_reads_up_to_it(
    old: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    record = old / f"var/lib/bainward/runs/{RECORD}.jsonl"
    record.write_bytes(record.read_bytes()[:-40])
    new = tmp_path / "new"
    new.mkdir()
    typed("backup", old, tmp_path)
    typed("restore", new, tmp_path)
    monkeypatch.setenv("XDG_STATE_HOME", str(new / "var/lib"))
    assert main(["book", "list"]) == Exit.DONE
    assert "ab12" in capsys.readouterr().out


def test_the_exposure_that_is_told_is_what_the_test_of_the_units_allows() -> None:
    text = DOCUMENT.read_text(encoding="utf-8")
    block = text.partition("<!-- exposure -->")[2].partition("<!-- end -->")[0]
    said = dict(re.findall(r"\| `([\w@.-]+)` \| (\d\.\d) \|", block))
    assert said == {
        "bainward-guard.service": "1.0",
        "bainward@.service": "2.2",
        "bainward-notify.service": "1.6",
        "bainward-page.service": "1.4",
    }
    tests = (Path(__file__).parent / "test_service_hardening.py").read_text(encoding="utf-8")
    names = ("GUARD_UNIT", '"bainward@dark.service"', "NOTIFY_UNIT", "PAGE_UNIT")
    for name, most in zip(names, said.values(), strict=True):
        assert f"({name}, {most})" in tests
