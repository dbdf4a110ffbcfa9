"""Machine files: the shipped ones, a sound one, and those that must be refused.

Responsible for what a machine file says and refuses; not for profiles.
"""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.core.machine import BATH_CEILING_C, BOWL_CEILING_C
from controller.errors import Exit, MachineFileError
from controller.files.attach_shape import BenchAttach
from controller.files.machine_file import (
    bench_machine_path,
    bench_machines,
    load_machine_file,
)
from controller.link.settings import LinkSettings, Remote, Tls, Transport
from hardware.bench.machines import MACHINES
from tests.helpers.records import replace

FOLDER = Path(__file__).parent / "bad_files"
SOUND = (FOLDER / "sound_machine.toml").read_text(encoding="utf-8")


def complaint(folder: Path, text: str) -> str:
    """What is said about a file of that text."""
    path = folder / "machine.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(MachineFileError) as caught:
        load_machine_file(path)
    assert caught.value.exit_code is Exit.BAD_FILE
    return str(caught.value)


def spoilt(*edits: tuple[str, str]) -> str:
    """The sound text with the first occurrence of each old text replaced."""
    text = SOUND
    for old, new in edits:
        assert old in text, f"the test's own text is gone: {old}"
        text = text.replace(old, new, 1)
    return text


BAD = [
    ("a bare limit", [('"62 C"', "62")], "limits · bath", 'write "62 C" or "62 F"'),
    ("over the compiled bath", [('"62 C"', '"70.5 C"')], "limits · bath", 'to "70 C"'),
    ("over the compiled bowl", [('"60 C"', '"60.5 C"')], "limits · bowl", 'to "60 C"'),
    ("a bowl over its bath", [('"62 C"', '"58 C"')], "limits · bowl", 'at most "58 C"'),
    ("a slow loop", [('"0.5 s"', '"3 s"')], "period", 'write "0.25 s" to "2 s"'),
    ("a hasty loop", [('"0.5 s"', '"0.1 s"')], "period", 'write "0.25 s" to "2 s"'),
    ("water by the litre", [('"3 kg"', '"3 L"')], "bath · water", 'write it like "1.5 kg"'),
    ("a kettle", [('"500 W"', '"5000 W"')], "bath · heater", 'write "20 W" to "3500 W"'),
    ("no loss", [('loss = "2.5 W/K"\n', "")], "bath · loss", 'write loss = "2.5 W/K"'),
    ("a misspelt relay", [('"mechanical"', '"mechanic"')], "relay · kind", 'write "mechanical"'),
    ("a quick relay", [('"6 s"', '"0.1 s"')], "relay · min_off", 'write "0.5 s" to "60 s"'),
    (
        "a coarse pulse",
        [("min_off", 'min_on = "40 s"\nmin_off')],
        "relay · min_on",
        'write at most "26.4 s"',
    ),
    (
        "a heater that no relay is quick enough for",
        [
            ('"3 kg"', '"0.3 kg"'),
            ('"500 W"', '"3500 W"'),
            ('"700 J/K"', '"20 J/K"'),
            ("min_off", 'min_on = "0.5 s"\nmin_off'),
        ],
        "relay · min_on",
        'write "0.5 s", and at least "0.42 kg" of water',
    ),
    ("a probe far off", [('"-0.3 K"', '"-2.5 K"')], "probes · bath_offset", '"-2 K" to "2 K"'),
    ("an offset in C", [('"-0.3 K"', '"-0.3 C"')], "probes · bath_offset", 'write "-0.3 K"'),
    (
        "a maybe",
        [("= true", '= "yes"')],
        "fitted · level_switch",
        "write level_switch = true or level_switch = false",
    ),
    ("an unknown part", [("level_switch", "level_swich")], "level_swich", "mean level_switch?"),
    ("another attachment", [('"bench"', '"gpio"')], "attach · kind", 'write "bench"'),
    ("an attachment of no kind", [('kind = "bench"\n', "")], "attach · kind", 'kind = "bench"'),
    (
        "a flat attachment",
        [("schema = 1", "schema = 1\nattach = 1"), ("[attach]", "[attached]")],
        "attach",
        "must be a table; write [attach]",
    ),
    ("no such bench", [('"brisk"', '"brisc"')], "attach · machine", 'write "brisk"'),
    ("a strange bench", [('"brisk"', '"xyzzy"')], "attach · machine", 'write "reference"'),
    ("a negative seed", [("= 7", "= -7")], "attach · seed", "write seed = 1"),
    ("a seed in quotes", [("= 7", '= "7"')], "attach · seed", "a whole number; write seed = 1"),
    ("a port too far", [("8883", "88830")], "mqtt · port", "write port = 1883"),
    ("a host of spaces", [('"localhost"', '"my broker"')], "mqtt · host", "127.0.0.1"),
    ("a host by number", [('"localhost"', "127")], "mqtt · host", "127.0.0.1"),
    (
        "an unknown transport",
        [("[mqtt]", '[mqtt]\ntransport = "pigeon"')],
        "mqtt · transport",
        "not one of tcp, websockets",
    ),
    (
        "a path that would end a header",
        [("[mqtt]", '[mqtt]\ntransport = "websockets"\npath = "/mqtt\\r\\nx: y"')],
        "mqtt · path",
        'write one like "/mqtt"',
    ),
    (
        "a path without websockets",
        [("[mqtt]", '[mqtt]\npath = "/mqtt"')],
        "mqtt · path",
        'write transport = "websockets"',
    ),
    ("a password", [("[mqtt]", '[mqtt]\npassword = "x"')], "mqtt · password", "password_file ="),
    (
        "a hub by number",
        [("[mqtt]", "[mqtt]\nhome_assistant = 1")],
        "mqtt",
        "write home_assistant = t",
    ),
    ("two brokers", [("[mqtt]", "[[mqtt]]")], "mqtt", "must be a table; write [mqtt]"),
    ("a nameless password", [('username = "cook"\n', "")], "mqtt · username", "write username"),
    (
        "a nameless password of the environment",
        [('username = "cook"\n', ""), ("password_file", "password_variable")],
        "mqtt · username",
        "missing beside password_variable",
    ),
    (
        "two passwords",
        [("[mqtt]", '[mqtt]\npassword_variable = "X"')],
        "mqtt · password_file",
        "leave one out",
    ),
    (
        "a password for the name of a variable",
        [("[mqtt]", '[mqtt]\npassword_variable = "p4$$ word"')],
        "mqtt · password_variable",
        "BAINWARD_MQTT_PASSWORD",
    ),
    (
        "a certificate without its key",
        [("[mqtt]", '[mqtt]\nca = "ca.crt"\ncertificate = "a.crt"')],
        "mqtt",
        "key is missing beside certificate",
    ),
    (
        "a certificate without encryption",
        [("[mqtt]", '[mqtt]\nkey = "a.key"\ncertificate = "a.crt"')],
        "mqtt",
        "ca is missing beside certificate",
    ),
    (
        "a remote that does not exist",
        [("[mqtt]", '[mqtt]\nremote = "on"')],
        "mqtt · remote",
        'write "off"',
    ),
    (
        "an access list of nobody",
        [
            ("[mqtt]", '[mqtt]\nremote = "access-list"'),
            ('username = "cook"\npassword_file = "secret"\n', ""),
        ],
        "mqtt · remote",
        "write username or certificate",
    ),
    (
        "a password for all to read",
        [('"localhost"', '"kitchen.local"')],
        "mqtt · host",
        "the password would go in plain over the network to kitchen.local; write ca",
    ),
    (
        "a password of the environment for all to read",
        [('"localhost"', '"192.168.1.7"'), ("password_file", "password_variable")],
        "mqtt · host",
        "the password would go in plain",
    ),
    (
        "requests for heat that anybody may put in",
        [
            ('"localhost"', '"kitchen.local"'),
            ('password_file = "secret"', 'remote = "access-list"'),
        ],
        "mqtt · host",
        "requests for heat that come in plain",
    ),
    (
        "signed with nothing",
        [("[mqtt]", '[mqtt]\nremote = "signed"')],
        "mqtt · signing_key",
        'write signing_key = "FILE"',
    ),
    (
        "a key for nothing",
        [("[mqtt]", '[mqtt]\nsigning_key = "k"')],
        "mqtt · signing_key",
        'does nothing beside remote = "off"',
    ),
    ("a loud device", [('"sample-1"', '"Küche"')], "mqtt · device", "a-z, 0-9 and hyphens"),
    ("kelvin", [('"F"', '"K"')], "mqtt · unit", 'write unit = "C"'),
    ("no journal folder", [('folder = "runs"', "")], "journal · folder", "write folder ="),
    (
        "nobody's home",
        [('"runs"', '"~nobody-here/x"')],
        "names no home folder",
        "write the whole path",
    ),
    ("no limits", [("[limits]", "[limit]")], "limits", "write [limits]"),
]


@pytest.mark.parametrize(
    ("edits", "key", "remedy"), [case[1:] for case in BAD], ids=[case[0] for case in BAD]
)
def test_a_bad_machine_file_is_refused_with_file_key_and_remedy(
    tmp_path: Path, edits: list[tuple[str, str]], key: str, remedy: str
) -> None:
    said = complaint(tmp_path, spoilt(*edits))
    assert [line for line in said.splitlines() if key in line and remedy in line], said
    assert all(line.startswith(("machine.toml, ", "machine.toml: ")) for line in said.splitlines())


def test_a_password_is_never_repeated(tmp_path: Path) -> None:
    assert "hunter" not in complaint(tmp_path, spoilt(("[mqtt]", '[mqtt]\npassword = "hunter"')))


def test_a_missing_machine_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(
        MachineFileError, match=r"none\.toml: there is no such file as .*none\.toml; check"
    ):
        load_machine_file(tmp_path / "none.toml")


def test_the_bench_ships_a_file_for_each_of_its_machines() -> None:
    assert set(bench_machines()) == set(MACHINES)
    for name in bench_machines():
        machine_file = load_machine_file(bench_machine_path(name))
        assert machine_file.machine.name == name
        assert isinstance(machine_file.attach, BenchAttach)
        assert machine_file.attach.machine == name


def test_an_unknown_bench_machine_is_refused_with_those_that_exist() -> None:
    with pytest.raises(MachineFileError, match=f"write one of {', '.join(sorted(MACHINES))}"):
        bench_machine_path("xyzzy")


def test_without_a_path_the_reference_machine_is_meant() -> None:
    assert load_machine_file(None) == load_machine_file(bench_machine_path("reference"))


@pytest.mark.parametrize("name", bench_machines())
def test_the_shipped_machines_stay_under_the_compiled_ceilings(name: str) -> None:
    machine = load_machine_file(bench_machine_path(name)).machine
    # Harm must stay out of reach after one fault: bath at most 62 °C (own engineering value).
    assert machine.bath_max_c <= 62.0 < BATH_CEILING_C
    assert machine.bowl_max_c <= BOWL_CEILING_C


def test_a_sound_machine_reaches_the_core_in_our_units() -> None:
    machine = load_machine_file(FOLDER / "sound_machine.toml").machine
    assert (machine.name, machine.period_s) == ("sample", 0.5)
    assert machine.room_c == pytest.approx(20.0)  # 68 °F, by the definition of the scale
    assert (machine.bath_max_c, machine.bowl_max_c) == (62.0, 60.0)
    assert (machine.water_kg, machine.vessel_j_per_k) == (3.0, 700.0)
    assert (machine.heater_w, machine.loss_w_per_k, machine.batch_kg) == (500.0, 2.5, 1.5)
    assert machine.bath_offset_k == -0.3
    assert machine.bowl_offset_k == pytest.approx(0.5 * 5 / 9)  # a span in °F, by definition
    assert (machine.has_level, machine.has_shaft, machine.has_load) == (True, False, False)


def test_the_relay_kind_gives_the_times_that_the_file_leaves_out() -> None:
    machine = load_machine_file(FOLDER / "sound_machine.toml").machine
    assert (machine.min_on_s, machine.min_off_s) == (8.0, 6.0)
    solid = load_machine_file(None).machine
    assert (solid.min_on_s, solid.min_off_s) == (2.0, 2.0)


def test_relay_times_in_the_file_win(tmp_path: Path) -> None:
    path = tmp_path / "machine.toml"
    path.write_text(spoilt(("min_off", 'min_on = "5 s"\nmin_off')), encoding="utf-8")
    assert load_machine_file(path).machine.min_on_s == 5.0


def test_attachment_broker_and_journal_are_read() -> None:
    machine_file = load_machine_file(FOLDER / "sound_machine.toml")
    assert machine_file.attach == BenchAttach(machine="brisk", seed=7, answer_after_s=30.0)
    assert machine_file.link == LinkSettings(
        host="localhost",
        port=8883,
        device_id="sample-1",
        username="cook",
        password_file=FOLDER / "secret",
        fahrenheit=True,
    )
    assert machine_file.journal_dir == FOLDER / "runs"


def test_an_encrypted_broker_and_its_password_s_variable_are_read(tmp_path: Path) -> None:
    path = tmp_path / "machine.toml"
    more = (
        '[mqtt]\nremote = "signed"\nsigning_key = "k"\nca = "ca.crt"\n'
        'certificate = "/etc/x.crt"\nkey = "x.key"'
    )
    edits = (("[mqtt]", more), ('password_file = "secret"', 'password_variable = "COOK_WORD"'))
    path.write_text(spoilt(*edits), encoding="utf-8")
    link = load_machine_file(path).link
    assert link is not None
    assert (link.password_file, link.password_variable) == (None, "COOK_WORD")
    assert (link.remote, link.signing_key_file) == (Remote.SIGNED, tmp_path / "k")
    assert link.tls == Tls(
        ca_file=tmp_path / "ca.crt",
        certificate_file=Path("/etc/x.crt"),
        key_file=tmp_path / "x.key",
    )


def test_without_its_tables_there_is_no_broker_and_no_journal_folder() -> None:
    machine_file = load_machine_file(None)
    assert machine_file.link is None
    assert machine_file.journal_dir is None


def test_websockets_are_chosen_with_their_path(tmp_path: Path) -> None:
    path = tmp_path / "m.toml"
    for more, expected in (("", "/mqtt"), ('path = "/ws"\n', "/ws")):
        chosen = f'[mqtt]\ntransport = "websockets"\n{more}'
        path.write_text(spoilt(("[mqtt]", chosen)), encoding="utf-8")
        link = load_machine_file(path).link
        assert link is not None
        assert (link.transport, link.path) == (Transport.WEBSOCKETS, expected)


def test_an_empty_mqtt_table_means_the_usual_local_broker(tmp_path: Path) -> None:
    path = tmp_path / "machine.toml"
    path.write_text(SOUND[: SOUND.index("[mqtt]")] + "[mqtt]\n", encoding="utf-8")
    assert load_machine_file(path).link == LinkSettings()


def test_a_tilde_is_the_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    path = tmp_path / "machine.toml"
    path.write_text(spoilt(('"runs"', '"~/runs"')), encoding="utf-8")
    assert load_machine_file(path).journal_dir == tmp_path / "home" / "runs"


def test_the_sample_differs_from_the_reference_where_it_says_so() -> None:
    sample = load_machine_file(FOLDER / "sound_machine.toml").machine
    assert replace(sample, name="reference") != load_machine_file(None).machine


def refusal_or_nothing(path: Path) -> str:
    """The refusal, or nothing when the file loads; any other exception escapes."""
    try:
        load_machine_file(path)
    except MachineFileError as error:
        return str(error)
    return ""


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_a_mutated_machine_file_loads_or_is_refused_and_nothing_else(
    tmp_path: Path, data: st.DataObject
) -> None:
    text = SOUND
    for _ in range(data.draw(st.integers(1, 3))):
        begin = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(begin, min(len(text), begin + 12)))
        text = text[:begin] + data.draw(st.text(max_size=6)) + text[end:]
    path = tmp_path / "mutant.toml"
    path.write_text(text, encoding="utf-8", errors="replace", newline="")
    said = refusal_or_nothing(path)
    assert all(line.startswith(("mutant.toml, ", "mutant.toml: ")) for line in said.splitlines())


@pytest.mark.parametrize("name", ["drawn-99999999999-1", "drawn-01-1", "drawn-1-0"])
def test_a_machine_that_the_bench_can_not_draw_is_refused_in_the_file(
    name: str, tmp_path: Path
) -> None:
    text = bench_machine_path("reference").read_text(encoding="utf-8")
    path = tmp_path / "mine.toml"
    path.write_text(text.replace('machine = "reference"', f'machine = "{name}"'), encoding="utf-8")
    with pytest.raises(MachineFileError, match=f'the bench has no "{name}"'):
        load_machine_file(path)
