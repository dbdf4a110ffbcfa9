"""The command line's words, and where records live."""

from pathlib import Path

import pytest

from controller.commands.main import main
from controller.commands.options import parser
from controller.commands.places import made, state_folder
from controller.errors import AccessError, Exit


def refused(*words: str, capsys: pytest.CaptureFixture[str]) -> str:
    """What is said to a command line that can't be understood."""
    with pytest.raises(SystemExit) as caught:
        parser().parse_args(list(words))
    assert caught.value.code == Exit.USAGE
    return capsys.readouterr().err


def test_without_a_word_it_says_what_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == Exit.USAGE
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "exit codes:" in shown.err
    assert "run a profile on the simulated bench" in shown.err


def test_a_try_needs_only_a_profile() -> None:
    options = parser().parse_args(["try", "dark"])
    assert vars(options) == {
        "command": "try",
        "units": None,  # as the machine file says, else °C
        "profile": "dark",
        "journal_dir": None,
        "broker": None,
        "no_broker": False,
        "log": None,
        "plot": None,
        "page": None,
        "humidity": None,
        "machine": None,
        "seed": None,
        "speed": None,
        "port": None,
        "you_answer": False,
        "fitted": None,
        "fault": [],
        "give_up_after": None,
    }


def test_every_option_of_a_try_is_taken() -> None:
    line = (
        "try own.toml --machine m.toml --seed 7 --speed 60 --port 1884 --units F "
        "--journal-dir /records --broker kitchen:1883 --log json --plot run.svg"
    )
    options = parser().parse_args(line.split())
    assert (options.profile, options.machine) == ("own.toml", "m.toml")
    assert (options.seed, options.speed, options.port) == (7, 60.0, 1884)
    assert (options.units, options.log) == ("F", "json")
    assert (options.journal_dir, options.plot) == (Path("/records"), Path("run.svg"))
    assert options.broker == ("kitchen", 1883)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("127.0.0.1:1", ("127.0.0.1", 1)),
        ("[::1]:65535", ("::1", 65535)),
    ],
)
def test_a_broker_is_a_host_and_a_port(text: str, expected: tuple[str, int]) -> None:
    assert parser().parse_args(["try", "dark", "--broker", text]).broker == expected


@pytest.mark.parametrize("text", ["kitchen", "kitchen:", ":1883", "a:0", "a:65536", "a:x", "a:-1"])
def test_a_broker_without_host_and_port_is_refused_with_an_example(
    text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    said = refused("try", "dark", f"--broker={text}", capsys=capsys)
    assert (
        f"--broker {text}: write HOST:PORT, the port from 1 to 65535, for example 127.0.0.1:1883"
        in said
    )


@pytest.mark.parametrize("text", ["0", "65536", "x", "1.5", "-1"])
def test_a_port_that_is_none_is_refused(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = refused("try", "dark", f"--port={text}", capsys=capsys)
    assert f"{text} is not a port: write 1 to 65535" in said


@pytest.mark.parametrize("text", ["0", "-1", "0.09", "10001", "nan", "inf", "fast", ""])
def test_a_speed_that_is_none_is_refused(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = refused("try", "dark", f"--speed={text}", capsys=capsys)
    assert f"{text} is not a speed: write 0.1 to 10000, for example 60" in said


@pytest.mark.parametrize("text", ["0s", "-1 h", "8", "8 K", "soon", ""])
def test_a_patience_that_is_none_is_refused(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = refused("try", "dark", f"--give-up-after={text}", capsys=capsys)
    assert f"{text} is no time: write it like 90min or 8h" in said


@pytest.mark.parametrize(("text", "seconds"), [("90min", 5400.0), ("8 h", 28_800.0)])
def test_a_patience_is_taken_in_any_unit(text: str, seconds: float) -> None:
    options = parser().parse_args(["try", "dark", "--give-up-after", text])
    assert options.give_up_after == seconds


@pytest.mark.parametrize("text", ["0.1", "1", "10000"])
def test_a_speed_at_its_bounds_is_taken(text: str) -> None:
    assert parser().parse_args(["try", "dark", "--speed", text]).speed == float(text)


def test_a_broker_and_no_broker_exclude_each_other(capsys: pytest.CaptureFixture[str]) -> None:
    said = refused("try", "dark", "--broker", "a:1", "--no-broker", capsys=capsys)
    assert "not allowed with" in said


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["bake"],
        ["try"],
        ["run", "dark"],  # a real machine must be named
        ["run", "dark", "--machine", "m.toml", "--speed", "60"],  # and its time is real
        ["run", "dark", "--machine", "m.toml", "--seed", "1"],
        ["try", "dark", "--units", "K"],
        ["try", "dark", "--seed", "x"],
    ],
)
def test_a_command_line_that_makes_no_sense_is_refused(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert "usage: bainward" in refused(*words, capsys=capsys)


def test_a_run_needs_its_machine() -> None:
    options = parser().parse_args(["run", "dark", "--machine", "m.toml", "--no-broker"])
    assert (options.command, options.machine, options.no_broker) == ("run", "m.toml", True)


def test_a_check_takes_any_number_of_profiles() -> None:
    assert parser().parse_args(["check"]).profiles == []
    options = parser().parse_args(["check", "a", "b.toml", "--machine", "m.toml"])
    assert (options.profiles, options.machine) == (["a", "b.toml"], "m.toml")


def test_the_profiles_can_be_listed_in_either_unit() -> None:
    assert parser().parse_args(["profiles", "--units", "F"]).units == "F"


@pytest.mark.parametrize("command", [[], ["try"], ["run"], ["check"], ["profiles"]])
def test_help_is_given_for_every_command(
    command: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as caught:
        parser().parse_args([*command, "--help"])
    assert caught.value.code == 0
    assert "usage: bainward" in capsys.readouterr().out


def test_every_exit_code_is_explained_in_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        parser().parse_args(["--help"])
    said = capsys.readouterr().out
    assert all(f"  {int(code)}  " in said for code in Exit)


def test_records_live_in_the_state_folder_of_the_base_directory_convention(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # XDG Base Directory Specification 0.8: an unset, empty or relative value is ignored.
    monkeypatch.setenv("HOME", "/home/cook")
    home = Path("/home/cook/.local/state/bainward")
    monkeypatch.delenv("XDG_STATE_HOME", raising=False)
    assert state_folder() == home
    for value in ("", "relative/folder"):
        monkeypatch.setenv("XDG_STATE_HOME", value)
        assert state_folder() == home
    monkeypatch.setenv("XDG_STATE_HOME", "/elsewhere")
    assert state_folder() == Path("/elsewhere/bainward")


def test_a_folder_is_made_where_it_was_not(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b"
    assert made(made(folder)) == folder
    assert folder.is_dir()


def test_a_folder_that_cannot_be_made_is_refused_with_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    with pytest.raises(AccessError) as caught:
        made(tmp_path / "file" / "runs")
    assert str(caught.value) == (
        f"The folder {tmp_path / 'file' / 'runs'} for the run's record can't be made "
        "(Not a directory); name one that can be written with --journal-dir."
    )
    assert caught.value.exit_code is Exit.NO_PERMISSION
