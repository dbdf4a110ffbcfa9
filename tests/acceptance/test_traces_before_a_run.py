"""Dark chocolate after milk, with the real command: nothing begins without a word on the traces."""

import json
from pathlib import Path

from controller.book.traces import Last, memory_path, recall, remember
from controller.errors import Exit
from tests.helpers.process import end, environment, start

WORDS = ("run", "dark", "--machine", "reference", "--no-broker")


def memory_of(home: Path) -> Path:
    """Where the command keeps what machines remember, as its environment says."""
    env = environment(home)
    folder = Path(env["XDG_STATE_HOME"]) / "bainward" / "machines"
    folder.mkdir(parents=True)
    return folder


def test_a_run_after_another_product_waits_for_a_word_and_keeps_what_was_said(
    tmp_path: Path,
) -> None:
    memory = memory_of(tmp_path)
    milk = Last(
        machine="reference",
        run_id="before",
        began_utc="2031-02-03T10:00:00+00:00",
        title="milk (Milk chocolate)",
        carries=("milk",),
    )
    remember(memory, milk)
    runs = tmp_path / "runs"

    code, out, err = end(start(tmp_path, *WORDS, "--journal-dir", str(runs)))
    assert (code, out) == (Exit.STOPPED, "")
    assert "leaves traces of milk" in err
    assert err.count("\n") == 1
    assert recall(memory, "reference") == milk
    assert not any(runs.glob("*"))

    words = ("--traces", "accepted", "--contains", "soya", "--journal-dir", str(runs))
    process = start(tmp_path, *WORDS, *words)
    assert process.stdout is not None
    assert "Somebody stays" in process.stdout.readline()
    process.terminate()
    _, out, _ = end(process)
    assert f"bainward book label {runs}" in out
    last = recall(memory, "reference")
    assert last is not None
    assert last.carries == ("soya", "milk")
    (notes,) = runs.glob("*.notes.json")
    noted = json.loads(notes.read_text(encoding="utf-8"))
    assert (noted["contains"], noted["traces"]) == (["soya"], ["milk"])
    assert memory_path(memory, "reference").is_file()
