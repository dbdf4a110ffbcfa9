"""What goes wrong before a run: one clear sentence, a documented exit code, never any heat."""

import os
import socket
import subprocess
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.files.profile_file import shipped_profiles
from tests.helpers.brokers import free_port
from tests.helpers.process import COMMAND, end, environment, start

DARK = Path("profiles/dark.toml")


@pytest.fixture(autouse=True)
def _own_state_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    """Exit code and standard error of one command."""
    code = main(words)
    return code, capsys.readouterr().err


def test_an_unknown_profile_is_answered_with_the_nearest_known_one(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, err = said(capsys, "try", "drak", "--no-broker")

    assert code == Exit.BAD_FILE
    assert "drak" in err
    assert "did you mean dark" in err
    assert len(err.splitlines()) == 1


def test_an_unknown_key_is_answered_with_the_nearest_known_one(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(DARK.read_text(encoding="utf-8").replace("bath_ceiling", "bath_cieling", 1))

    code, err = said(capsys, "try", str(path), "--no-broker")

    assert code == Exit.BAD_FILE
    assert "mine.toml" in err
    assert "bath_cieling" in err
    assert "bath_ceiling" in err


def test_impossible_limits_are_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(
        DARK.read_text(encoding="utf-8").replace('bath_cut = "58 C"', 'bath_cut = "75 C"')
    )

    code, err = said(capsys, "try", str(path), "--no-broker")

    assert code == Exit.BAD_FILE
    assert "bath_cut" in err


@pytest.mark.parametrize("command", ["try", "run"])
def test_a_machine_file_that_is_not_there_is_named(
    command: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    missing = tmp_path / "nowhere.toml"

    code, err = said(capsys, command, "dark", "--machine", str(missing))

    assert code == Exit.BAD_FILE
    assert "nowhere.toml" in err


def test_a_record_that_cannot_be_written_stops_the_run_before_it_begins(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    # A folder under a plain file can't be made by anybody, root included.
    (tmp_path / "file").write_text("")

    code, err = said(
        capsys, "try", "dark", "--no-broker", "--journal-dir", str(tmp_path / "file" / "records")
    )

    assert code == Exit.NO_PERMISSION
    assert "--journal-dir" in err
    assert len(err.splitlines()) == 1


def test_a_port_that_was_asked_for_and_is_taken_is_an_error(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        code, err = said(capsys, "try", "dark", "--port", str(port))

    assert code == Exit.BUSY
    assert str(port) in err
    assert len(err.splitlines()) == 1


def test_a_broker_that_is_away_does_not_keep_a_run_from_its_end(
    capsys: pytest.CaptureFixture[str],
) -> None:
    code = main(("try", "water-trial", "--broker", f"127.0.0.1:{free_port()}"))

    out, err = capsys.readouterr()
    assert code == Exit.DONE
    assert err == ""
    assert "Trips      none" in out


@pytest.mark.parametrize(
    ("words", "remedy"),
    [
        (("try", "dark", "--broker", "somewhere"), "HOST:PORT"),
        (("try", "dark", "--broker", "host:0"), "HOST:PORT"),
        (("try", "dark", "--port", "70000"), "1 to 65535"),
        (("try", "dark", "--speed", "nan"), "for example 60"),
        (("try", "dark", "--speed", "fast"), "for example 60"),
        (("run", "dark"), "--machine"),
    ],
)
def test_a_command_line_that_is_not_understood_says_what_to_write(
    words: tuple[str, ...], remedy: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(words)

    assert ended.value.code == Exit.USAGE
    assert remedy in capsys.readouterr().err


@pytest.mark.parametrize("name", ["run.pdf", "nowhere/run.svg"])
def test_a_picture_that_cannot_be_is_refused_before_the_run(
    name: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    code, err = said(capsys, "try", "dark", "--no-broker", "--plot", str(tmp_path / name))

    assert code in {Exit.USAGE, Exit.NO_PERMISSION}
    assert name in err
    assert not list((tmp_path / "state").rglob("*.jsonl"))


def test_check_explains_a_profile_on_a_machine(capsys: pytest.CaptureFixture[str]) -> None:
    code = main(("check", "--machine", str(bench_machine_path("brisk")), "dark", "--units", "F"))

    out, err = capsys.readouterr()
    assert code == Exit.DONE
    assert err == ""
    assert "brisk" in out
    assert "122.0 °F" in out  # melt at 50 °C


def test_profiles_lists_every_shipped_profile(capsys: pytest.CaptureFixture[str]) -> None:
    code = main(("profiles",))

    out = capsys.readouterr().out
    assert code == Exit.DONE
    for name in shipped_profiles():
        assert f"{name} " in out


def test_output_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    with Path("/dev/full").open("w") as full:
        process = subprocess.run(
            [str(COMMAND), "profiles"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            env=environment(tmp_path),
        )
    assert process.returncode == Exit.NO_PERMISSION
    assert process.stderr.count("\n") == 1
    assert "can't be written" in process.stderr


def test_a_closed_output_ends_no_run(tmp_path: Path) -> None:
    words = f"exec {COMMAND} try water-trial --no-broker >&- 2>&-"
    process = subprocess.run(
        ["sh", "-c", words], check=False, env=environment(tmp_path), stdin=subprocess.DEVNULL
    )
    assert process.returncode == Exit.DONE
    assert len(list(tmp_path.rglob("*.jsonl"))) == 1


def test_questions_left_to_a_person_are_not_answered_by_the_bench(tmp_path: Path) -> None:
    process = start(
        tmp_path, "try", "dark", "--you-answer", "--no-broker", "--speed", "3000", "--log", "json"
    )
    assert process.stderr is not None
    for line in process.stderr:
        if "question_asked" in line:
            break
    process.terminate()
    code, out, err = end(process)
    assert code == Exit.STOPPED
    assert "question_answered" not in err
    assert "What is in the bowl, by its packet?" in out


def test_a_reader_that_goes_away_does_not_change_how_a_run_ended(tmp_path: Path) -> None:
    path = tmp_path / "spoilt.toml"
    text = DARK.read_text(encoding="utf-8").replace('dwell = "5 min"', 'dwell = "20 min"')
    path.write_text(text, encoding="utf-8")
    process = start(tmp_path, "try", str(path), "--no-broker")
    assert process.stdout is not None
    process.stdout.readline()
    process.stdout.close()
    assert process.wait(30) == Exit.NOT_IN_TEMPER
    assert process.stderr is not None
    process.stderr.close()


def test_a_pipe_given_as_a_profile_is_refused_and_never_waited_for(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    code, err = said(capsys, "try", str(tmp_path / "pipe.toml"), "--no-broker")
    assert code == Exit.BAD_FILE
    assert "no plain file" in err
