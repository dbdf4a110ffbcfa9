"""What only minutes show of a thermometer, through every driver: is it named, and heat off by then?

    python tests/proofs/thermometers.py [DRIVER...]

Prints a row for each fault and driver, which are those of tests/helpers/thermometer_list.py: the
cause that ended the run, after how long, and how long the heater was still on. Each run is one of
water that is warm already and held, or of one that starts. The short form is
tests/faults/test_thermometer_lies.py.
"""

import logging
import sys
import tempfile
from pathlib import Path

import structlog

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from controller.guard import door
from tests.helpers.thermometer_list import Driver
from tests.helpers.thermometer_pictures import PICTURES, run_with


def main() -> int:
    """Try them all; 1 when one isn't named within its time, or heat is on after that."""
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    door.PAUSE_S = 0.0  # time is handed in
    drivers = [Driver(word) for word in sys.argv[1:]] or list(Driver)
    print(f"{'fault':32}{'driver':14}{'cause':26}{'after s':>8}{'heated s':>10}{'within s':>10}")
    is_sound = True
    for mode, picture in PICTURES.items():
        for driver in drivers:
            with tempfile.TemporaryDirectory() as folder:
                how = run_with(Path(folder), driver, picture)
            is_right = how.is_right(picture)
            is_sound = is_sound and is_right
            row = f"{mode:32}{driver:14}{how.cause:26}{how.trip_s:8.0f}{how.heated_s:10.0f}"
            end = "" if is_right else "  NOT AS IT MUST BE"
            print(f"{row}{picture.within_s:10.0f}{end}", flush=True)
    return 0 if is_sound else 1


if __name__ == "__main__":
    sys.exit(main())
