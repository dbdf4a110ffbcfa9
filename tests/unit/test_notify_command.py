"""The command `notify`: whom it would tell, its secrets, and its one-line refusals."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit
from controller.files.machine_file import bench_machine_path
from controller.lock import MachineLock
from tests.helpers.brokers import free_port
from tests.helpers.push_service import PushService

BROKER = '[mqtt]\nhost = "localhost"\ndevice = "kitchen"\n'


@pytest.fixture(autouse=True)
def state(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the command keeps what waits."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state" / "bainward"


@pytest.fixture
def service() -> Iterator[PushService]:
    with PushService() as made:
        yield made


def push_file(folder: Path, url: str, *more: str, broker: str = BROKER, top: str = "") -> str:
    path = folder / "phone.toml"
    push = "\n".join(('protocol = "ntfy"', f'url = "{url}"', *more))
    path.write_text(f"schema = 1\n{top}[push]\n{push}\n{broker}", encoding="utf-8")
    return str(path)


def test_a_test_message_is_sent_at_once(
    service: PushService, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    token = tmp_path / "push-token"
    token.write_text("tk_secret\n")
    token.chmod(0o600)
    file = push_file(tmp_path, service.url, 'token_file = "push-token"')
    assert main(["notify", file, "--test"]) == Exit.DONE
    (post,) = service.posts
    assert post.body.startswith("A test: alarms and questions of kitchen will come this way.")
    assert post.headers["Authorization"] == "Bearer tk_secret"
    assert capsys.readouterr().out == (
        "The test message was taken: it should be on the phone now.\n"
    )


def test_a_test_message_that_is_not_taken_says_why(
    service: PushService, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    service.statuses = [(403, {})]
    assert main(["notify", push_file(tmp_path, service.url), "--test"]) == Exit.HARDWARE
    said = capsys.readouterr().err
    assert "it answers 403 Forbidden" in said
    assert "see to address, token" in said
    assert len(said.splitlines()) == 1


@pytest.mark.parametrize(
    ("content", "mode", "sentence"),
    [
        ("tk_x\n", 0o644, "Others may read or change the push token file"),
        ("tk_x\ntk_y\n", 0o600, "must have the push token as its one line"),
        ("two words\n", 0o600, "has signs that no token has"),
        ("tk_ä\n", 0o600, "has signs that no token has"),
        (None, 0o600, "can't be read: No such file"),
    ],
)
def test_a_token_that_others_may_read_or_that_is_none_is_refused(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    content: str | None,
    mode: int,
    sentence: str,
) -> None:
    token = tmp_path / "push-token"
    if content is not None:
        token.write_text(content, encoding="utf-8")
        token.chmod(mode)
    file = push_file(tmp_path, "https://push.example/a", 'token_file = "push-token"')
    assert main(["notify", file]) == Exit.NO_PERMISSION
    said = capsys.readouterr().err
    assert sentence in said
    assert "tk_" not in said
    assert len(said.splitlines()) == 1


def test_an_authority_that_is_none_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = push_file(tmp_path, "https://push.example/a", 'ca = "ca.crt"')
    assert main(["notify", file]) == Exit.NO_PERMISSION
    assert "ca.crt can't be read (No such file" in capsys.readouterr().err
    (tmp_path / "ca.crt").write_text("no certificate\n")
    assert main(["notify", file]) == Exit.BAD_FILE
    assert "name a PEM file with the authority's certificate" in capsys.readouterr().err


def test_a_machine_that_tells_nobody_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    top = f'machine = "{bench_machine_path("reference")}"\n'
    file = push_file(tmp_path, "https://push.example/a", broker="", top=top)
    assert main(["notify", file]) == Exit.BAD_FILE
    assert "has no [mqtt], so it is not known whom to listen to" in capsys.readouterr().err


def test_a_second_one_with_the_same_file_is_refused(
    state: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = push_file(tmp_path, f"http://localhost:{free_port()}/a")
    with MachineLock(state, "notify-kitchen-try-phone"):
        assert main(["notify", file, "--try"]) == Exit.BUSY
    said = capsys.readouterr().err
    assert "Another `bainward notify phone.toml` tells of kitchen-try already" in said
    assert len(said.splitlines()) == 1
