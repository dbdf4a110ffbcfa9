"""The page's password: kept as a hash in a file that nobody else may read."""

import hashlib
import io
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import AccessError, Exit, MachineFileError
from controller.page.passwords import Hash, read_hash, write_hash

PASSWORD = "swirl-the-bowl ✓"  # noqa: S105 - the tests' own


def test_a_password_is_kept_as_scrypt_and_known_again(tmp_path: Path) -> None:
    path = tmp_path / "page.password"
    write_hash(path, Hash.of(PASSWORD))
    text = path.read_text("utf-8")
    assert PASSWORD not in text
    assert path.stat().st_mode & 0o777 == 0o600
    kept = read_hash(path)
    assert kept.fits(PASSWORD)
    assert not kept.fits(PASSWORD + "x")
    # RFC 7914, by hand: the parameters are those that stand in the file.
    assert text.startswith("scrypt:14:8:5:")
    by_hand = hashlib.scrypt(
        PASSWORD.encode(), salt=kept.salt, n=2**14, r=8, p=5, maxmem=2**26, dklen=32
    )
    assert kept.digest == by_hand


def test_the_same_password_is_never_kept_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("controller.page.passwords.LN_N", 4)
    assert Hash.of(PASSWORD) != Hash.of(PASSWORD)


def test_a_file_that_others_may_read_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "page.password"
    path.write_text("scrypt:", encoding="utf-8")
    path.chmod(0o644)
    with pytest.raises(AccessError, match="Others may read or change the page's password file"):
        read_hash(path)


@pytest.mark.parametrize("text", ["swirl-the-bowl", "scrypt:14:8:5:a:b", "scrypt:4:8:5:"])
def test_what_is_no_hash_is_refused_with_what_makes_one(tmp_path: Path, text: str) -> None:
    path = tmp_path / "page.password"
    path.write_text(text, encoding="utf-8")
    path.chmod(0o600)
    with pytest.raises(MachineFileError, match="make one with: bainward page --set-password"):
        read_hash(path)


def test_a_folder_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(AccessError, match="can't be written"):
        write_hash(tmp_path / "nowhere" / "page.password", Hash(salt=b"", digest=b""))


@pytest.mark.parametrize(
    ("typed", "code"),
    [("swirl-the-bowl\n", Exit.DONE), ("short\n", Exit.USAGE), ("x" * 129, Exit.USAGE)],
)
def test_the_command_keeps_what_is_typed(
    typed: str,
    code: Exit,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("controller.page.passwords.LN_N", 4)
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    path = tmp_path / "page.password"
    assert main(["page", "--set-password", str(path)]) == code
    assert path.exists() == (code is Exit.DONE)
    said = capsys.readouterr()
    assert ("nothing was written" in said.err) == (code is not Exit.DONE)
    assert typed.strip() not in said.out + said.err


def run(*words: str) -> int:
    try:
        return main(["page", *words])
    except SystemExit as end:
        return int(end.code or 0)


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--listen", "kitchen"), 2, "is no place to listen at"),
        (("--listen", "127.0.0.1:99999"), 2, "is no place to listen at"),
        (("--certificate", "a.pem", "--try"), 2, "go together"),
        ((), 2, "has no [mqtt]"),
        (("--try", "--password", "nowhere.txt"), 8, "can't be read"),
        (("--machine", "no-such"), 6, "There is no machine"),
    ],
)
def test_what_can_not_be_is_refused_in_one_sentence(
    words: tuple[str, ...], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*words) == code
    assert said in capsys.readouterr().err


def test_a_password_is_never_sent_in_plain_over_a_network(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "page.password"
    write_hash(path, Hash(salt=b"s" * 16, digest=b"d" * 32))
    words = ("--try", "--password", str(path))
    for place in ("0.0.0.0:0", "[::]:0", "192.168.1.4:0"):
        assert run(*words, "--listen", place) == Exit.USAGE
        assert "in plain over the network" in capsys.readouterr().err
