"""What is refused under [attach], [fitted] and [guard] of a real machine, and in what words.

Responsible for files that are wrong; not for what right ones mean (test_machine_file_linux).
"""

from pathlib import Path

import pytest

from controller.errors import MachineFileError
from tests.helpers.kitchen_file import BATH, HWMON, ONE_WIRE, example, loaded

NO_GUARD = example()[example().index("[guard.main]") :]
GUARD_FILE = 'kind = "hwmon"\npath = "/sys/class/t"'
BAD = [
    ("no kind", [('kind = "linux"\n', "")], "attach · kind: is missing", 'write kind = "bench"'),
    ("a near kind", [('kind = "linux"', 'kind = "linus"')], "attach · kind", 'write "linux"'),
    (
        "a kind by number",
        [('kind = "linux"', "kind = 7")],
        "attach · kind",
        "is not one of bench, linux",
    ),
    ("a kind of its own", [(ONE_WIRE, 'kind = "wire"')], "attach · bath · kind", 'write "1-wire"'),
    ("no kind of bath", [('kind = "1-wire"\n', "")], "attach · bath · kind", 'kind = "1-wire"'),
    ("no id", [('id = "28-00000a1b2c3d"', "")], "attach · bath · id", "write id = "),
    ("a misspelt id", [("id =", "idd =")], "attach · bath · idd", "did you mean id?"),
    ("another family", [('id = "28', 'id = "10')], "attach · bath · id", "/sys/bus/w1/devices"),
    ("a short id", [("b2c3d", "b2c3")], "attach · bath · id", "is no id of a 1-wire"),
    ("an id as path", [('"28-0', '"../28-0')], "attach · bath · id", "is no id of a 1-wire"),
    ("an id by number", [('"28-00000a1b2c3d"', "28")], "attach · bath · id", "is no id"),
    (
        "a bench's key",
        [('kind = "linux"', 'kind = "linux"\nseed = 1')],
        "attach · seed",
        "known are kind, root",
    ),
    (
        "a linux key",
        [('kind = "linux"', 'kind = "bench"')],
        "attach · bath",
        "known are kind, machine",
    ),
    ("no bath", [(BATH + ONE_WIRE, "")], "attach · bath: is missing", "write [attach.bath]"),
    ("a bath in a word", [(BATH + ONE_WIRE, 'bath = "x"')], "attach · bath", "must be a table"),
    ("no bowl's place", [('name = "tmp102"', "")], "attach: bowl has neither name nor path", "one"),
    (
        "two places",
        [(HWMON, HWMON + '\npath = "x"')],
        "attach: bowl has both name and",
        "wants one",
    ),
    ("a name as path", [('"tmp102"', '"../etc"')], "attach · bowl · name", "hwmon0/name holds"),
    (
        "one for both",
        [(HWMON, ONE_WIRE)],
        "attach: bath and bowl are the same",
        "give each its own",
    ),
    (
        "a current that nobody measures",
        [("load_signal = false", "load_signal = false\nheater_current = true")],
        "attach · heater_current: is missing",
        "write [attach.heater_current], or heater_current = false",
    ),
    (
        "a current that nobody speaks of",
        [
            (
                "[attach.stirrer]",
                '[attach.heater_current]\nkind = "hwmon"\nname = "ina226"\n[attach.stirrer]',
            )
        ],
        "attach · heater_current: is there",
        "heater_current = false",
    ),
    (
        "a current from nowhere",
        [("[attach.stirrer]", '[attach.heater_current]\nkind = "hwmon"\n[attach.stirrer]')],
        "attach: heater_current has neither name nor path",
        'like name = "ina226"',
    ),
    (
        "a mains-live input of the controller's",
        [("load_signal = false", "load_signal = false\nmains_live = true")],
        "fitted: mains_live is a line of the guard's",
        "write [guard.mains_live]",
    ),
    ("no stirrer", [('[attach.stirrer]\nline = "GPIO27"', "")], "attach · stirrer", "is missing"),
    ("no line", [('line = "GPIO27"', "")], "attach · stirrer", 'either line = "GPIO27" or pwm'),
    (
        "line and PWM",
        [('line = "GPIO27"', 'line = "GPIO27"\npwm = "/p/pwm0"\nfull = "60 rpm"')],
        "attach · stirrer",
        "wants either",
    ),
    ("PWM of no speed", [('line = "GPIO27"', 'pwm = "/p/pwm0"')], "stirrer", 'full = "60 rpm"'),
    ("a line of a speed", [('"GPIO27"', '"GPIO27"\nfull = "60 rpm"')], "stirrer", "has only one"),
    ("the heater's line", [('"GPIO27"', '"GPIO17"')], "stirrer · line", "is the guard's main"),
    ("the second line", [('"GPIO27"', '"GPIO22"')], "stirrer · line", "is the guard's second"),
    (
        "a cooling output without a line",
        [("[attach]", '[cooling]\nkind = "pump"\ncarries = "70 W/K"\n[attach]')],
        "attach · cooling: is missing",
        'line = "GPIO22"',
    ),
    (
        "a line that nobody speaks of",
        [('line = "GPIO27"', 'line = "GPIO27"\n[attach.cooling]\nline = "GPIO23"')],
        "attach · cooling: is there",
        "no [cooling]",
    ),
    (
        "one line for two",
        [('line = "GPIO27"', 'line = "GPIO27"\n[attach.cooling]\nline = "GPIO27"')],
        "attach · cooling · line",
        "is that of stirrer",
    ),
    (
        "the guard's line for cooling",
        [('line = "GPIO27"', 'line = "GPIO27"\n[attach.cooling]\nline = "GPIO17"')],
        "attach · cooling · line",
        "is the guard's main",
    ),
    (
        "the bath's thermometer for the guard",
        [("28-00000a1b2c3e", "28-00000a1b2c3d")],
        "guard · probe · path",
        "is the bath's thermometer; give the guard one of its own",
    ),
    (
        "the bowl's file for the guard",
        [
            ('name = "tmp102"', 'path = "/sys/class/t"'),
            (
                'kind = "1-wire"\npath = "/sys/bus/w1/devices/28-00000a1b2c3e/temperature"',
                GUARD_FILE,
            ),
        ],
        "guard · probe · path",
        "is the bowl's thermometer",
    ),
    ("no guard", [(NO_GUARD, "")], "guard: is missing", "write [guard]"),
    ("a level switch", [("level_switch = false", "level_switch = true")], "fitted", "= false"),
    (
        "no bath that is said to be there",
        [("[fitted]", "[fitted]\nbath_probe = false")],
        "attach · bath: is there",
        "take one of them out",
    ),
    (
        "no thermometer at all",
        [("[fitted]", "[fitted]\nbath_probe = false\nbowl_probe = false")],
        "fitted: a machine needs a thermometer",
        "bowl_probe = true",
    ),
    (
        "a level on the heater's line",
        [
            ("[attach.stirrer]", '[attach.level]\nline = "GPIO17"\n\n[attach.stirrer]'),
            ("level_switch = false", "level_switch = true"),
        ],
        "attach · level · line",
        "is the guard's main",
    ),
    (
        "a load",
        [("load_signal = false", "load_signal = true")],
        "attach · load: is missing",
        "load_signal = false",
    ),
    (
        "a stop button without a line",
        [
            ("load_signal = false", "load_signal = false\nstop_button = true"),
            ("[attach.stirrer]", "[attach.stop]\nactive_low = true\n\n[attach.stirrer]"),
        ],
        "attach · stop: wants either",
        'path = "lines/lid"',
    ),
    (
        "a stop button on the stirrer's line",
        [
            ("load_signal = false", "load_signal = false\nstop_button = true"),
            ("[attach.stirrer]", '[attach.stop]\nline = "GPIO27"\n\n[attach.stirrer]'),
        ],
        "attach · stop · line",
        "that of stirrer",
    ),
    (
        "a lid that is not said",
        [("[attach.stirrer]", '[attach.lid]\nline = "GPIO12"\n\n[attach.stirrer]')],
        "attach · lid: is there",
        "lid_switch = false",
    ),
    (
        "a motor's current without its supply",
        [
            ("load_signal = false", "load_signal = true"),
            ("[attach.stirrer]", f"[attach.load]\n{HWMON}\n\n[attach.stirrer]"),
        ],
        "attach · load · supply",
        '"12 V"',
    ),
    (
        "a current without a unit",
        [
            ("load_signal = false", "load_signal = true"),
            (
                "[attach.stirrer]",
                f'[attach.load]\n{HWMON}\nsupply = "12 V"\nidle = "0.2"\n\n[attach.stirrer]',
            ),
        ],
        "attach · load · idle",
        '"0.2 A" or "0.2 mA"',
    ),
    (
        "a shaft",
        [("shaft_pulses = false", "shaft_pulses = true")],
        "fitted",
        "shaft_pulses = false",
    ),
]


@pytest.mark.parametrize(
    ("edits", "key", "remedy"), [case[1:] for case in BAD], ids=[case[0] for case in BAD]
)
def test_a_bad_attachment_is_refused_with_file_key_and_remedy(
    tmp_path: Path, edits: list[tuple[str, str]], key: str, remedy: str
) -> None:
    with pytest.raises(MachineFileError) as caught:
        loaded(tmp_path, *edits)
    lines = str(caught.value).splitlines()
    assert [line for line in lines if key in line and remedy in line], lines
    assert all(line.startswith("machine.toml, ") for line in lines)
