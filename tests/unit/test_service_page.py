"""The unit of the page, and what is read back from units that were written once."""

import re
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from controller.page.passwords import Hash, write_hash
from controller.service.reading import page_in, push_file_in
from controller.service.units import GUARD_UNIT, NOTIFY_UNIT, PAGE_UNIT, PagePlan, units
from tests.helpers.records import replace
from tests.helpers.unit_files import GUARD, SERVICE, SOUND, parsed


@pytest.fixture
def machine_file(tmp_path: Path) -> Path:
    """A machine file with a guard and a link."""
    path = tmp_path / "kitchen.toml"
    path.write_text(SOUND + GUARD, encoding="utf-8")
    return path


def test_the_page_gets_a_unit_on_wish(
    machine_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["service", "--machine", str(machine_file), str(tmp_path)]
    assert main(words) == Exit.DONE
    assert not (tmp_path / PAGE_UNIT).exists()
    assert main([*words, "--page"]) == Exit.DONE
    text = (tmp_path / PAGE_UNIT).read_text(encoding="utf-8")
    unit = parsed(text)["Service"]
    assert unit["ExecStart"].endswith(
        f'bainward" page --machine "{machine_file}" --listen 127.0.0.1:8080'
    )
    assert unit["Type"] == "notify"
    assert parsed(text)["Install"]["WantedBy"] == "multi-user.target"
    said = capsys.readouterr().out
    assert "it is at 127.0.0.1:8080" in said
    assert "systemctl enable --now bainward-page\n" in said


def test_the_pages_password_and_certificate_are_named_by_their_whole_path(
    machine_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    write_hash(Path("page.password"), Hash.of("swirl-the-bowl"))
    for name in ("page.crt", "page.key"):
        Path(name).write_text("PEM\n", encoding="utf-8")
    words = ["service", "--machine", str(machine_file), str(tmp_path), "--page", "[::]:443"]
    files = ["--page-password", "page.password", "--page-certificate", "page.crt"]
    assert main([*words, *files, "--page-key", "page.key"]) == Exit.DONE
    text = (tmp_path / PAGE_UNIT).read_text(encoding="utf-8")
    plan = PagePlan(
        listen="[::]:443",
        password=tmp_path / "page.password",
        certificate=tmp_path / "page.crt",
        key=tmp_path / "page.key",
    )
    assert page_in(text) == plan
    assert parsed(text)["Service"]["SocketBindAllow"] == "tcp:443"


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--page-password", "page.password"], "add --page"),
        (["--page", "127.0.0.1:0"], "needs a port of its own"),
        (["--page", "--page-key", "page.key"], "go together"),
        (["--page", "0.0.0.0:8080", "--page-password", "page.password"], "would go in plain"),
        (
            ["--page", "--page-certificate", "none.crt", "--page-key", "none.key"],
            "There is no file none.crt",
        ),
    ],
)
def test_a_page_that_could_not_be_served_gets_no_unit(
    machine_file: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    more: list[str],
    says: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    write_hash(Path("page.password"), Hash.of("swirl-the-bowl"))
    assert main(["service", "--machine", str(machine_file), str(tmp_path), *more]) == Exit.USAGE
    assert says in capsys.readouterr().err
    assert not (tmp_path / GUARD_UNIT).exists()


def test_a_page_of_a_machine_without_a_link_gets_no_unit(
    machine_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = machine_file.read_text("utf-8")
    table = re.search(r"\[mqtt\][^\[]*", text)
    assert table is not None
    machine_file.write_text(text.replace(table[0], ""), encoding="utf-8")
    words = ["service", "--machine", str(machine_file), str(tmp_path), "--page"]
    assert main(words) == Exit.USAGE
    assert "has no [mqtt]" in capsys.readouterr().err


def test_what_a_unit_names_is_read_back_whatever_signs_are_in_it() -> None:
    odd = Path('/home/50%/my "own" $HOME/back\\slash')
    plan = PagePlan(listen="127.0.0.1:8080", password=odd)
    made = units(replace(SERVICE, page=plan, push_file=odd))
    assert page_in(made[PAGE_UNIT]) == plan
    assert push_file_in(made[NOTIFY_UNIT]) == odd


@pytest.mark.parametrize(
    "line",
    [
        "",
        "ExecStart=",
        'ExecStart="',
        "ExecStart=/bin/true page --machine",
        "ExecStart=/b page --machine m --listen here",
        "ExecStart=/b page --machine m --listen h:80 --password p --fancy q",
        "ExecStart=/b notify a b",
    ],
)
def test_what_somebody_else_wrote_into_a_unit_is_nothing(line: str) -> None:
    assert page_in(line) is None
    assert push_file_in(line) is None
