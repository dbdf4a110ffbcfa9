"""A thermometer of the bench calibrated through ice and boiling water, and taken back."""

from pathlib import Path

import pytest
from msgspec.structs import replace

from controller.commissioning import calibrating
from controller.commissioning.calibrating import (
    BESIDE,
    BOILING,
    ICE,
    Place,
    check_place,
    complete,
    finish,
    next_place,
    take_point,
    undo,
)
from controller.commissioning.correction import correct, corrected_text
from controller.commissioning.proofs import OFFSET, Done, Former, Step
from controller.errors import AccessError, MachineFileError, UnprovenError, UsageError
from controller.files.machine_file import load_machine_file
from controller.ports import Kind
from hardware.bench.attach import Bench, attach
from hardware.bench.parameters import Parameters
from tests.helpers.commissioned import BEGAN, Minutes, Scripted, site_in

BEFORE = (Step.PROBES, Step.PROVE)
BOILS_C = 97.051  # at 912 hPa: IAPWS-IF97, region 4
AT_BOILING = Place(name=BOILING, pressure_hpa=912.0)
AT_ICE = Place(name=ICE)


def bench_off() -> Bench:
    """A machine whose digital thermometers are off: 0.25 K too much in the bath."""
    return attach(
        machine=Parameters(bath_probe_off=0.5, bowl_probe_off=-0.6),
        seed=3,
        kind=Kind.WATER,
        batch_kg=1.0,
        seed_share=0.0,
        fitted=frozenset(),
    )


def test_a_calibration_is_kept_between_its_points_and_corrects_the_machine_file(
    tmp_path: Path,
) -> None:
    bench, clock, person = bench_off(), Minutes(), Scripted()
    site = site_in(tmp_path, person, clock, shown=BEFORE)
    site.begin(Step.BATH)
    assert next_place(site, "bath") == ICE
    bench.hold_probe("bath", 0.0)
    take_point(site, "bath", AT_ICE, bench.devices.bath)
    assert finish(site, "bath") is None
    again = site_in(tmp_path, person, clock)  # as after a kill
    assert next_place(again, "bath") == BOILING
    bench.hold_probe("bath", BOILS_C)
    take_point(again, "bath", AT_BOILING, bench.devices.bath)
    found = finish(again, "bath")
    assert found is not None
    assert found.offset_k == pytest.approx(-0.25, abs=0.05)
    assert 0.02 < found.sure_k < 0.05
    after = site_in(tmp_path, person, clock)
    assert after.machine_file.machine.bath_offset_k == pytest.approx(found.offset_k, abs=1e-3)
    assert after.read().parts == {}
    assert not after.lacks((Step.BATH,))
    assert "bath:" in person.shown[0]
    sheet = calibrating.sheet("bath", found, 0.0)
    assert "boiling" in sheet
    assert "reads 0.2" in sheet


def test_the_bowls_is_corrected_by_itself_beside_another_thermometer(tmp_path: Path) -> None:
    bench, clock = bench_off(), Minutes()
    site = site_in(tmp_path, Scripted(), clock, shown=BEFORE)
    bench.hold_probe("bowl", 31.2)
    place = Place(name=BESIDE, true_c=31.2)
    take_point(site, "bowl", place, bench.devices.bowl)
    found = finish(site, "bowl")
    assert found is not None
    assert found.offset_k == pytest.approx(0.3, abs=0.05)
    machine = load_machine_file(tmp_path / "kitchen.toml").machine
    assert (machine.bath_offset_k, machine.bowl_offset_k > 0.2) == (0.0, True)


def test_a_thermometer_that_is_not_where_it_should_be_is_refused(tmp_path: Path) -> None:
    bench, clock = bench_off(), Minutes()
    site = site_in(tmp_path, Scripted(), clock, shown=BEFORE)
    with pytest.raises(UnprovenError, match=r"reads 20\.\d °C where it is 0\.0 °C"):
        take_point(site, "bath", AT_ICE, bench.devices.bath)
    assert site.parts(Step.BATH) == {}


def test_a_thermometer_that_does_not_rest_is_refused(tmp_path: Path) -> None:
    bench = bench_off()
    clock = Minutes(due=lambda now_s: bench.hold_probe("bath", 5.0 - 0.005 * now_s))
    site = site_in(tmp_path, Scripted(), clock, shown=BEFORE)
    with pytest.raises(UnprovenError, match="still drifts"):
        take_point(site, "bath", AT_ICE, bench.devices.bath)


def test_a_point_of_days_ago_counts_no_more(tmp_path: Path) -> None:
    bench, clock = bench_off(), Minutes()
    site = site_in(tmp_path, Scripted(), clock, shown=BEFORE)
    bench.hold_probe("bath", 0.0)
    take_point(site, "bath", AT_ICE, bench.devices.bath)
    clock.at_s += 3 * 86_400.0
    assert calibrating.points_so_far(site, "bath") == ()
    assert next_place(site, "bath") == ICE


def test_steps_before_it_come_first(tmp_path: Path) -> None:
    site = site_in(tmp_path, Scripted(), Minutes(), shown=(Step.PROBES,))
    with pytest.raises(UnprovenError, match="do this first: `bainward prove"):
        site.begin(Step.BOWL)


@pytest.mark.parametrize(
    ("place", "said"),
    [
        (Place(name=BOILING), "add --pressure"),
        (Place(name=BESIDE, true_c=60.0), "too far from the 31 °C"),
    ],
)
def test_a_point_that_can_not_be_is_refused_before_water_is_boiled(place: Place, said: str) -> None:
    with pytest.raises(UsageError, match=said):
        check_place(place, "bath")


def test_an_undo_brings_back_the_correction_and_the_proof_before(tmp_path: Path) -> None:
    bench, clock = bench_off(), Minutes()
    offsets: list[float] = []
    for shown_c in (31.2, 31.5):
        site = site_in(tmp_path, Scripted(), clock, shown=() if offsets else BEFORE)
        bench.hold_probe("bath", 31.2)
        take_point(site, "bath", Place(name=BESIDE, true_c=shown_c), bench.devices.bath)
        found = finish(site, "bath")
        assert found is not None
        offsets.append(round(found.offset_k, 3))
        clock.at_s += 100.0
    first = undo(site_in(tmp_path, Scripted(), clock), "bath")
    assert first == pytest.approx(offsets[0], abs=1e-3)
    site = site_in(tmp_path, Scripted(), clock)
    assert not site.lacks((Step.BATH,))
    assert undo(site, "bath") == 0.0
    site = site_in(tmp_path, Scripted(), clock)
    assert site.machine_file.machine.bath_offset_k == 0.0
    assert "bath" not in str(site.read().steps)
    with pytest.raises(UsageError, match="there to take back"):
        undo(site, "bath")


def test_a_correction_that_was_found_but_not_written_is_seen_and_completed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench, clock = bench_off(), Minutes()
    site = site_in(tmp_path, Scripted(), clock, shown=BEFORE)
    bench.hold_probe("bath", 31.2)
    take_point(site, "bath", Place(name=BESIDE, true_c=31.2), bench.devices.bath)
    with monkeypatch.context() as patched:
        patched.setattr(calibrating, "correct", lambda *_: None)  # a kill just before it
        finish(site, "bath")
    site = site_in(tmp_path, Scripted(), clock)
    lack = site.lacks((Step.BATH,))[0]
    assert "want a correction of -0.2" in lack.why
    assert str(complete(site, "bath")).startswith("-0.2")
    site = site_in(tmp_path, Scripted(), clock)
    assert not site.lacks((Step.BATH,))
    assert complete(site, "bath") is None


def test_what_was_found_of_another_thermometer_is_not_written_for_this_one(
    tmp_path: Path,
) -> None:
    site = site_in(tmp_path, Scripted(), Minutes(), shown=BEFORE)
    other = Done(done_utc=BEGAN.isoformat(), of="another", facts={OFFSET: "1.500 K"})
    site.keep(lambda old: replace(old, steps={**old.steps, str(Step.BATH): other}))
    assert complete(site, "bath") is None
    assert load_machine_file(site.path).machine.bath_offset_k == 0.0


@pytest.mark.parametrize("said", ["99.000 K", "nan K", "much"])
def test_a_correction_that_no_machine_file_may_say_is_never_written(
    tmp_path: Path, said: str
) -> None:
    site = site_in(tmp_path, Scripted(), Minutes(), shown=BEFORE)
    site.done(Step.BATH, {OFFSET: said})
    far = Former(key="bath_offset", value_k=99.0, step=None)
    site.keep(lambda old: replace(old, former=(far,)))
    assert complete(site, "bath") is None
    with pytest.raises(UsageError, match="calibrate it anew"):
        undo(site, "bath")
    assert load_machine_file(site.path).machine.bath_offset_k == 0.0
    assert site.lacks((Step.BATH,))


@pytest.mark.parametrize("edit", [{"true_c": "cold"}, {"true_c": "nan"}, {"warm": "0"}])
def test_a_point_that_was_edited_is_to_be_taken_again(tmp_path: Path, edit: dict[str, str]) -> None:
    bench, clock = bench_off(), Minutes()
    site = site_in(tmp_path, Scripted(), clock, shown=BEFORE)
    bench.hold_probe("bath", 0.0)
    take_point(site, "bath", AT_ICE, bench.devices.bath)
    site.part(Step.BATH, ICE, {**site.parts(Step.BATH)[ICE].facts, **edit})
    assert next_place(site, "bath") == ICE
    assert finish(site, "bath") is None


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("a = 1\n", 'a = 1\n\n[probes] # added to what a thermometer reads\nKEY = "0.213 K"\n'),
        ("[probes]\n", '[probes]\nKEY = "0.213 K"\n'),
        (
            '[probes] # mine\nKEY = "1 K" # old\nb = "1 K"\n[x]\nKEY = 3\n',
            '[probes] # mine\nKEY = "0.213 K" # old\nb = "1 K"\n[x]\nKEY = 3\n',
        ),
        (
            '[x]\nKEY = 3\n\n[probes]\nb = "1 K"\n',
            '[x]\nKEY = 3\n\n[probes]\nKEY = "0.213 K"\nb = "1 K"\n',
        ),
        ('[probes]\n  KEY="1 K"\n[x]', '[probes]\n  KEY = "0.213 K"\n[x]'),
    ],
)
def test_a_correction_changes_its_own_line_and_no_other(before: str, after: str) -> None:
    key = "bath_offset"
    assert corrected_text(before.replace("KEY", key), key, 0.2134) == after.replace("KEY", key)


@pytest.mark.parametrize(
    "text", ['probes = { b = "1 K" }\n', 'probes.bath_offset = "1 K"\n', '["probes"]\nb = 1\n']
)
def test_a_table_that_is_written_otherwise_is_left_to_its_owner(tmp_path: Path, text: str) -> None:
    path = tmp_path / "kitchen.toml"
    path.write_text(text)
    with pytest.raises(MachineFileError, match=r'write bath_offset = "0\.200 K" into its table'):
        correct(path, "bath_offset", 0.2)
    assert path.read_text() == text


def test_a_corrected_file_keeps_its_mode_and_a_link_stays_one(tmp_path: Path) -> None:
    real, link = tmp_path / "real.toml", tmp_path / "kitchen.toml"
    real.write_text("a = 1\n")
    real.chmod(0o640)
    link.symlink_to(real)
    correct(link, "bath_offset", 0.2)
    assert link.is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640
    assert "0.200 K" in real.read_text()
    with pytest.raises(AccessError, match="can't be read"):
        correct(tmp_path / "none.toml", "bath_offset", 0.2)
