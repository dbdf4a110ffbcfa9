"""What was heard is kept in bounds, and what is old is never called live."""

import itertools

from controller.view.board import OLD_AFTER_S, SETTLES_S, Board, Standing
from controller.view.curve import MOST
from tests.helpers.moments import TRIP, moment, state
from tests.helpers.topics import BASE, told


def board(now_s: float = 0.0, **more: str) -> Board:
    """One that has found the broker and heard what it had kept."""
    made = Board(BASE)
    made.found(now_s)
    for path, text in {**told(), **more}.items():
        hear(made, path, text, now_s=now_s, retained=True)
    return made


def hear(to: Board, path: str, text: str, *, now_s: float, retained: bool = False) -> None:
    to.hear(f"{BASE}/{path}", text.encode(), retained=retained, now_s=now_s)


def beat(to: Board, now_s: float) -> None:
    hear(to, "safety/heartbeat", f"{now_s:.0f}", now_s=now_s)


def test_what_a_broker_has_kept_is_not_live_until_the_heart_is_heard() -> None:
    made = board()
    assert (made.view(1.0).standing, made.view(1.0).age_s) == (Standing.OLD, None)
    beat(made, 2.0)
    assert (made.view(2.5).standing, made.view(2.5).age_s) == (Standing.LIVE, 0.5)
    assert made.view(2.5).is_live


def test_a_silent_machine_is_old_within_five_seconds() -> None:
    made = board()
    beat(made, 10.0)
    assert made.view(10.0 + OLD_AFTER_S).standing is Standing.LIVE
    assert made.view(10.0 + OLD_AFTER_S + 0.1).standing is Standing.OLD
    assert OLD_AFTER_S + 0.1 < 5.0
    hear(made, "bowl/temperature", "44.00", now_s=15.0)  # others may write there; the heart is ours
    assert made.view(15.0).standing is Standing.OLD


def test_an_open_lid_is_heard() -> None:
    made = board()
    hear(made, "lid/open", "true", now_s=1.0)
    assert made.view(1.0).facts.lid_open


def test_a_machine_that_left_and_one_that_was_lost_are_told_apart() -> None:
    made = board()
    beat(made, 1.0)
    hear(made, "$state", "lost", now_s=1.5)
    assert made.view(1.5).standing is Standing.LOST
    hear(made, "$state", "disconnected", now_s=1.6)
    assert made.view(1.6).standing is Standing.OFF


def test_without_its_broker_the_last_values_stay_and_are_not_live() -> None:
    made = board()
    beat(made, 1.0)
    made.lost()
    view = made.view(1.5)
    assert (view.standing, view.age_s, view.facts.bowl_c) == (Standing.NO_BROKER, 0.5, 43.21)
    made.found(2.0)
    beat(board(), 2.0)
    assert made.view(2.1).facts.bowl_c is None  # told anew, or gone


def test_a_heartbeat_of_before_the_connection_makes_nothing_live() -> None:
    made = board()
    beat(made, 1.0)
    made.lost()
    made.found(1.5)
    for path, text in told().items():
        hear(made, path, text, now_s=1.6, retained=True)
    assert made.view(1.7).standing is Standing.OLD


def test_a_broker_that_knows_no_machine_says_so_once_it_had_time() -> None:
    made = Board(BASE)
    assert made.view(0.0).standing is Standing.NO_BROKER
    made.found(0.0)
    assert made.view(SETTLES_S / 2).standing is Standing.NO_BROKER
    assert made.view(SETTLES_S).standing is Standing.NO_MACHINE


def test_a_value_that_was_taken_off_the_broker_is_gone() -> None:
    made = board()
    hear(made, "$alert/level-lost", TRIP.what, now_s=1.0)
    assert made.view(1.0).facts.alerts
    hear(made, "$alert/level-lost", "", now_s=2.0)
    hear(made, "bowl/temperature", "", now_s=2.0)
    assert made.view(2.0).facts.alerts == ()
    assert made.view(2.0).facts.bowl_c is None


def test_what_is_not_the_machines_own_is_let_go() -> None:
    made = board()
    before = made.view(0.0).facts
    for topic in ("homie/5/other/bowl/temperature", BASE, "", f"{BASE}/control/token"):
        made.hear(topic, b"99", retained=False, now_s=1.0)
    hear(made, "control/command/set", "stop", now_s=1.0)
    hear(made, "bowl/../temperature", "99", now_s=1.0)
    assert made.view(1.0).facts == before


def test_strangers_who_fill_the_tree_cost_bounded_memory() -> None:
    made = board()
    for number in range(1000):
        hear(made, f"$alert/x{number}", "a" * 100_000, now_s=1.0)
        hear(made, f"bowl/x{number}", "b" * 100_000, now_s=1.0)
    told_ = made._told  # noqa: SLF001 - what it keeps is the point
    assert len(told_) <= 192
    assert sum(map(len, told_.values())) <= 192 * 4000 + 65_536
    hear(made, "bowl/temperature", "31.00", now_s=2.0)  # what is known still changes
    assert made.view(2.0).facts.bowl_c == 31.0


def at(run_s: int, run_id: str = "a") -> dict[str, str]:
    return told(moment(state(run_s=float(run_s)))) | {"run/id": run_id}


def test_a_curve_thins_itself_and_begins_anew_with_another_run() -> None:
    made = Board(BASE)
    made.found(0.0)
    for run_s in range(0, 5 * 2 * MOST, 5):
        for path, text in at(run_s).items():
            hear(made, path, text, now_s=float(run_s))
    samples = made.view(0.0).samples
    assert MOST / 2 <= len(samples) <= MOST
    assert samples[0].run_s == 0.0
    assert samples[-1].run_s > 5 * 2 * MOST - 30
    assert (samples[0].bowl_c, samples[0].bath_c, samples[0].phase) == (43.21, 55.0, "melt")
    gaps = {b.run_s - a.run_s for a, b in itertools.pairwise(samples)}
    assert gaps <= {10.0, 20.0}
    for path, text in at(7, "b").items():
        hear(made, path, text, now_s=9999.0)
    hear(made, "safety/heartbeat", "7", now_s=9999.0)
    assert [one.run_s for one in made.view(0.0).samples] == [7.0]
