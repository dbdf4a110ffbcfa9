"""What a Home Assistant hub makes of our message for it, asked of that hub's own code.

Usage: python tests/proofs/hub_discovery.py PYTHON

PYTHON is the interpreter of an environment that has the hub (`.ci/discovery` makes one). Each part
of the message is given to the schema with which the hub judges a discovered entity, together with
the device and its availability, as the hub joins them. The frame around the parts, and the list of
an enumeration's words, are newer than the newest hub for this Python, so that only
tests/unit/test_link_hub.py holds those. Exits 1 if the hub refuses a part, or takes one that was
spoilt on purpose.
"""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.link.fitted_rows import EVERY_PART
from controller.link.hub import discovery
from controller.link.tree import tree
from tests.helpers.moments import profile

HUB = """
import importlib, json, sys, warnings
warnings.simplefilter("ignore")
refused = {}
for name, part in json.load(sys.stdin).items():
    platform = importlib.import_module("homeassistant.components.mqtt." + part.pop("platform"))
    try:
        platform.DISCOVERY_SCHEMA(part)
    except Exception as error:
        refused[name] = str(error)
json.dump(refused, sys.stdout)
"""
# What the hub must refuse, so that the schema is known to look.
SPOILT = {
    "spoilt unit": {"platform": "sensor", "state_topic": "a", "expire_after": "soon"},
    "spoilt class": {"platform": "sensor", "state_topic": "a", "device_class": "chocolate"},
    "spoilt topic": {"platform": "binary_sensor", "state_topic": "a/#/b"},
    "spoilt button": {"platform": "button", "payload_press": "stop"},
}
NEWER = {"options"}  # keys that the hub of this Python doesn't know yet


def parts(*, fahrenheit: bool) -> dict[str, dict[str, Any]]:
    """Each part as the hub sees it."""
    rows = tree(profile(), run_id="a", fitted=EVERY_PART, fahrenheit=fahrenheit)
    text = discovery(rows, base="homie/5/kitchen", device_id="kitchen", name="Tempering machine")
    message = json.loads(text)
    common = {
        "device": {"identifiers": message["dev"]["ids"], "name": message["dev"]["name"]},
        "availability": message["availability"],
    }
    shown = {}
    for name, part in message["cmps"].items():
        kept = {key: value for key, value in part.items() if key not in {"p", *NEWER}}
        shown[f"{name} in {'F' if fahrenheit else 'C'}"] = {"platform": part["p"], **kept, **common}
    return shown


def main(interpreter: str) -> int:
    """Ask; the exit code."""
    asked = {**parts(fahrenheit=False), **parts(fahrenheit=True), **SPOILT}
    done = subprocess.run(
        [interpreter, "-c", HUB],
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        print(done.stderr)
        return 1
    refused = json.loads(done.stdout)
    wrong = {name: why for name, why in refused.items() if name not in SPOILT}
    missed = SPOILT.keys() - refused.keys()
    print(
        f"{len(asked) - len(SPOILT)} parts, {len(wrong)} refused by the hub; "
        f"{len(SPOILT)} spoilt on purpose, {len(SPOILT) - len(missed)} refused"
    )
    for name in missed:
        print(f"WRONG: {name} was taken")
    for name, why in wrong.items():
        print(f"WRONG: {name}: {why}")
    return 1 if wrong or missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
