"""Two sweeps side by side: golden text from made-up tables, and what can't be compared."""

import math

import pytest

from controller.errors import UsageError
from controller.report.compare_changes import changes
from controller.report.compare_match import Matched, match
from controller.report.compare_sweeps import compare_sweeps
from controller.report.table import Row, table_of
from tests.helpers.sweeps import a_later_sweep, a_row, a_sweep

NAMES = ("before.csv", "after.csv")


def matched(before: list[Row], after: list[Row]) -> Matched:
    """The rows as two tables, paired."""
    return match(NAMES, table_of(before), table_of(after))


def test_the_text_reads_well() -> None:
    text = compare_sweeps(matched(a_sweep(), a_later_sweep()))
    assert text == (
        "A  before.csv, 21 machines\n"
        "B  after.csv, 21 machines\n"
        "Compared by name: 21 machines in both.\n"
        "\n"
        "How many           A   B   difference\n"
        "exit: done         21  20  -1\n"
        "exit: tripped      0   1   +1\n"
        "trips: none        21  20  -1\n"
        "trips: level-lost  0   1   +1\n"
        "\n"
        "Figure             at        A        B        difference  ratio  per machine\n"
        "ready              p5        1:42:00  1:51:57  +0:09:57    1.10   +0:10:00\n"
        "                   p50       1:51:00  2:02:30  +0:11:30    1.10   +0:10:00\n"
        "                   p95       2:00:00  2:14:27  +0:14:27    1.12   +0:14:09\n"
        "                   known of  21       20       -1\n"
        "working overshoot  p5        0.02 K   0.04 K   +0.02 K     2.00   +0.01 K\n"
        "                   p50       0.11 K   0.22 K   +0.11 K     2.00   +0.11 K\n"
        "                   p95       0.20 K   0.40 K   +0.20 K     2.00   +0.20 K\n"
        "The same in both on every machine: bath max, switches, form v.\n"
        "\n"
        "Changed most  in                 A        B           difference\n"
        "drawn-1-5     exit               done     tripped     differs\n"
        "              trips              none     level-lost  differs\n"
        "              ready              1:45:00  -           only in A\n"
        "drawn-1-7     ready              1:47:00  3:20:00     +1:33:00\n"
        "              working overshoot  0.07 K   0.14 K      +0.07 K\n"
        "drawn-1-21    working overshoot  0.21 K   0.42 K      +0.21 K\n"
        "              ready              2:01:00  2:11:00     +0:10:00\n"
        "drawn-1-20    working overshoot  0.20 K   0.40 K      +0.20 K\n"
        "              ready              2:00:00  2:10:00     +0:10:00\n"
        "drawn-1-19    working overshoot  0.19 K   0.38 K      +0.19 K\n"
        "              ready              1:59:00  2:09:00     +0:10:00\n"
        "In all, 21 of 21 machines changed.\n"
    )


def test_the_same_sweep_twice_is_the_same_on_every_machine() -> None:
    text = compare_sweeps(matched(a_later_sweep(), a_later_sweep()))
    assert "The same in both on every machine: ready, working overshoot, bath max" in text
    assert text.endswith("Nothing changed on any machine.\n")
    assert "differs" not in text


def test_spans_follow_the_unit() -> None:
    text = compare_sweeps(matched(a_sweep(), a_later_sweep()), fahrenheit=True)
    # By the definition of the scale: a span of 0.11 K is 0.198 °F.
    assert "p50       0.20 °F  0.40 °F  +0.20 °F    2.00   +0.20 °F\n" in text
    assert " K" not in text


def test_machines_are_matched_by_name_whatever_their_order() -> None:
    before, after = a_sweep(), list(reversed(a_later_sweep()))
    found = matched(before[:-2], after)
    assert found.before.machines == found.after.machines
    assert found.after.rows[4]["exit"] == "tripped"
    text = compare_sweeps(found)
    assert "A  before.csv, 19 machines\nB  after.csv, 21 machines\n" in text
    assert "Compared by name: 19 machines in both.\n" in text
    assert "Only in B, and left out: drawn-1-21, drawn-1-20.\n" in text
    assert "Only in A" not in text


def test_many_machines_of_one_table_only_are_counted_rather_than_listed() -> None:
    text = compare_sweeps(matched(a_sweep(), a_sweep()[:10]))
    assert "drawn-1-11, drawn-1-12, drawn-1-13, drawn-1-14, drawn-1-15 and 6 more.\n" in text


def test_columns_are_set_against_each_other_whatever_their_order() -> None:
    turned: list[Row] = [dict(reversed([*row.items()])) for row in a_sweep()]
    assert "Nothing changed" in compare_sweeps(matched(a_sweep(), turned))


def test_the_machines_that_changed_most_come_first() -> None:
    found = changes(matched(a_sweep(), a_later_sweep()))
    assert list(found)[:3] == ["drawn-1-5", "drawn-1-7", "drawn-1-21"]
    assert [change.column for change in found["drawn-1-5"]] == ["exit", "trips", "ready_s"]
    # By hand: 93 min, against 103 to 130 min, the third and the 39th of the 41 that are known.
    assert found["drawn-1-7"][0].size == pytest.approx(93.0 / 27.0)


def test_a_change_against_no_spread_counts_by_the_largest() -> None:
    before = [a_row(1, form_v=0.02), *(a_row(n, form_v=0.02) for n in range(2, 60))]
    after = [a_row(1, form_v=0.03), *(a_row(n, form_v=0.02) for n in range(2, 60))]
    (change,) = changes(matched(before, after))["drawn-1-1"]
    assert change.size == pytest.approx(1.0)


def test_a_machine_with_many_changes_shows_the_largest_and_counts_the_rest() -> None:
    text = compare_sweeps(matched([a_row(1)], [a_row(9, machine="drawn-1-1", exit="stopped")]))
    assert "              and 2 more\n" in text
    assert "In all, 1 of 1 machine changed.\n" in text


def test_rare_words_are_added_up() -> None:
    rows = [a_row(number, trips=f"cause-{number}") for number in range(1, 13)]
    text = compare_sweeps(matched(rows, rows[:11]))
    assert "trips: 3 others" in text
    assert "trips: cause-8 " in text
    assert "trips: cause-9 " not in text


def test_a_word_that_is_a_sentence_is_cut_off() -> None:
    rows = [a_row(1, trips="the water swap ends at 28.3 °C, above the target, and so on")]
    text = compare_sweeps(matched([a_row(1)], rows))
    assert "trips: the water swap ends at 28.3 °C, above ...  0  1  +1\n" in text
    assert "and so on" not in text


def test_a_column_of_words_in_one_table_is_no_figure_in_the_other() -> None:
    before, after = [a_row(1, trips="")], [a_row(1, trips="level-lost")]
    assert "trips: level-lost  0  1  +1" in compare_sweeps(matched(before, after))


def test_an_exit_code_is_a_word_even_as_a_number() -> None:
    assert "exit: 3   0  1  +1" in compare_sweeps(matched([a_row(1, exit=0)], [a_row(1, exit=3)]))


def test_what_happened_nowhere_has_no_line() -> None:
    rows = [a_row(number, ready_s=math.nan) for number in (1, 2)]
    assert "ready" not in compare_sweeps(matched(rows, rows))


def test_tables_of_different_columns_are_refused_with_the_columns() -> None:
    other: list[Row] = [{**row, "phase_seed_s": 60.0} for row in a_sweep()]
    with pytest.raises(
        UsageError,
        match=r"different columns \(only after.csv has phase_seed_s\); compare sweeps of",
    ):
        matched(a_sweep(), other)


def test_tables_without_a_machine_in_common_are_refused() -> None:
    with pytest.raises(UsageError, match="no machine in common; compare sweeps with the same"):
        matched(a_sweep()[:3], a_sweep()[3:])
