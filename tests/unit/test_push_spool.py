"""What waits on disk: nothing lost, nothing twice, whatever happens to the process or the disk."""

import sqlite3
from pathlib import Path

import pytest

from controller.core.interlock_rows import Priority
from controller.errors import AccessError
from controller.push import spool as module
from controller.push.spool import KEPT_SENT, Spool
from tests.helpers.messages import message


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "state" / "notify.sqlite"


def put(spool: Spool, *texts: str, priority: Priority = Priority.MEDIUM) -> None:
    spool.keep({}, {}, [message(text, priority) for text in texts], 100.0)


def texts(spool: Spool) -> list[str]:
    return [one.message.text for one in spool.waiting()]


def test_what_was_heard_and_what_waits_is_there_after_a_start_anew(path: Path) -> None:
    first = Spool(path)
    facts = {"run/id": "a", "run/remaining": "900", "$alert/lid-open": "Close it."}
    first.keep({}, facts, [message("Close it.")], 100.0)
    (before,) = first.waiting()
    first.close()
    again = Spool(path)
    assert again.facts() == {"run/id": "a", "$alert/lid-open": "Close it."}  # no fleeting ones
    assert again.waiting() == (before,)
    assert again.name == first.name
    assert before.id == f"{first.name}-1"
    again.close()


def test_a_fact_that_is_gone_is_forgotten(path: Path) -> None:
    spool = Spool(path)
    spool.keep({}, {"run/id": "a", "ask/id": "b"}, (), 0.0)
    spool.keep({"run/id": "a", "ask/id": "b"}, {"run/id": "c"}, (), 0.0)
    assert spool.facts() == {"run/id": "c"}
    spool.close()


def test_facts_and_messages_are_kept_both_or_neither(path: Path) -> None:
    spool = Spool(path)

    def broken() -> object:
        yield message("half")
        raise RuntimeError("killed here")

    with pytest.raises(RuntimeError):
        spool.keep({}, {"run/id": "a"}, broken(), 0.0)  # type: ignore[arg-type] # a generator
    assert spool.facts() == {}
    assert spool.waiting() == ()
    put(spool, "whole")
    assert texts(spool) == ["whole"]
    spool.close()


def test_the_pressing_go_first_and_the_others_in_their_order(path: Path) -> None:
    spool = Spool(path)
    put(spool, "a", "b")
    put(spool, "c", priority=Priority.HIGH)
    put(spool, "d", priority=Priority.LOW)
    assert texts(spool) == ["c", "a", "b", "d"]
    spool.close()


def test_what_is_settled_waits_no_more_and_its_number_never_comes_again(path: Path) -> None:
    spool = Spool(path)
    put(spool, "a")
    spool.settle(1, "sent", 100.0)
    assert spool.waiting() == ()
    spool.close()
    again = Spool(path)
    put(again, "b")
    assert [one.number for one in again.waiting()] == [2]
    again.close()


def test_what_was_sent_counts_by_its_time_and_priority(path: Path) -> None:
    spool = Spool(path)
    put(spool, "a", "b", "c")
    put(spool, "d", priority=Priority.HIGH)
    for number, at_s in ((1, 10.0), (2, 20.0), (3, 900.0), (4, 20.0)):
        spool.settle(number, "sent", at_s)
    assert spool.sent(10.0, 100.0) == (1, 1)  # the last of a clock that was set back is none
    spool.close()


def test_what_is_held_stays_marked(path: Path) -> None:
    spool = Spool(path)
    put(spool, "a", "b")
    spool.hold((2,))
    assert [one.is_held for one in spool.waiting()] == [False, True]
    spool.close()


def test_what_is_long_over_is_dropped(path: Path) -> None:
    spool = Spool(path)
    put(spool, *(["x"] * (KEPT_SENT + 10)))
    for number in range(1, KEPT_SENT + 11):
        spool.settle(number, "sent", 1.0)
    assert sum(spool.sent(0.0, 2.0)) == KEPT_SENT
    spool.close()


def test_a_flood_lets_the_pressing_stay_and_says_how_many_gave_way(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "MOST_WAITING", 3)
    spool = Spool(path)
    assert spool.keep({}, {}, [message("alarm"), message("a", Priority.LOW)], 0.0) == 0
    assert spool.keep({}, {}, [message(x, Priority.LOW) for x in "bcd"], 0.0) == 2
    assert texts(spool) == ["alarm", "c", "d"]
    spool.close()


def test_nobody_else_may_read_it(path: Path) -> None:
    spool = Spool(path)
    put(spool, "a")
    assert {one.stat().st_mode & 0o077 for one in path.parent.iterdir()} == {0}
    spool.close()


def test_a_damaged_file_is_told_in_one_sentence(path: Path) -> None:
    path.parent.mkdir()
    path.write_bytes(b"no database " * 100)
    with pytest.raises(AccessError, match="move a damaged file away") as caught:
        Spool(path)
    assert str(path) in str(caught.value)


def test_a_full_disk_is_told_and_loses_nothing_that_was_kept(path: Path) -> None:
    spool = Spool(path)
    put(spool, "kept")
    pages = spool._base.execute("PRAGMA page_count").fetchone()[0]  # noqa: SLF001 - a disk's end
    spool._base.execute(f"PRAGMA max_page_count = {pages}")  # noqa: SLF001
    with pytest.raises(AccessError, match="full"):
        put(spool, "x" * 100_000)
    assert texts(spool) == ["kept"]
    spool.close()


def test_two_threads_hold_it_at_once(path: Path) -> None:
    one, other = Spool(path), Spool(path)
    put(one, "a")
    other.settle(1, "sent", 5.0)
    put(one, "b")
    assert texts(other) == texts(one) == ["b"]
    one.close()
    other.close()


def test_a_power_cut_must_find_it_synced(path: Path) -> None:
    spool = Spool(path)
    (level,) = spool._base.execute("PRAGMA synchronous").fetchone()  # noqa: SLF001
    assert level == 2  # FULL: each commit is synced before it returns (sqlite.org, pragma.html)
    assert sqlite3.threadsafety >= 1
    spool.close()
