"""Which computer this is, so that proofs that were copied to another are known for it.

Responsible for one short word that says nothing else of the computer; not for what counts there
(proofs).
"""

import hmac
from pathlib import Path

# A board's own number goes with the board, whatever card is in it (`serial-number`, root node of
# the Devicetree Specification); others have what their system drew at its installation. Of that
# machine-id(5) says to show no more than a hash keyed with it.
_PLACES = (Path("/proc/device-tree/serial-number"), Path("/etc/machine-id"))
_FOR = b"bainward proofs"
_SIGNS = 16


def computer_id(places: tuple[Path, ...] = _PLACES) -> str:
    """The same for as long as it is this computer; empty where nothing tells it from others."""
    for place in places:
        try:
            own = place.read_bytes().strip(b"\0\n ")
        except OSError:
            continue
        if own.strip(b"0"):
            return hmac.digest(own, _FOR, "sha256").hex()[:_SIGNS]
    return ""
