"""Pictures of the page in each state, to be looked at: never a test.

Usage: python tests/pictures/page.py DIR [--only ready] [--size tablet] [--scheme light]

A run of `dark` on the bench, in simulated time, gives temperatures and sentences; what it never
comes to by itself (an alarm, a trip) is put in at its own moment. It is published at a mosquitto on
this computer, served by `bainward page`, and looked at with Debian's chromium.
"""

import argparse
import io
import shutil
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from PIL import Image
from playwright.sync_api import Page, expect

from controller.clock import wall_time
from controller.core.outlook import UNKNOWN
from controller.core.signals import Reading
from controller.core.state import Mode, Switches
from controller.core.tempering import Temper
from controller.link.fitted_rows import EVERY_PART
from controller.link.tree import tree
from controller.ports import Moment
from controller.trials import Trial, run_trial
from tests.helpers.brokers import Mosquitto
from tests.helpers.moments import TRIP
from tests.helpers.paging import (
    DARK,
    NOTICE,
    PASSWORD,
    browsing,
    found_browser,
    password_file,
    served,
)
from tests.helpers.records import replace
from tests.helpers.topics import BASE, told
from tests.helpers.watcher import Watcher

SIZES = {"phone": (390, 844), "tablet": (1024, 768), "desk": (1280, 800)}
SCHEMES = ("light", "dark")
EACH_S = 20.0  # of the run, between two samples of the curve
COLOURS = 64  # of a picture that is kept: flat areas and letters need no more
LOOK_MS = 20_000
PRESSED = Switches(is_pressed=True)


class Film:
    """Every so many seconds of a run, one moment of it."""

    def __init__(self) -> None:
        """Nothing has happened yet."""
        self.moments: list[Moment] = []

    def tell(self, moment: Moment) -> None:
        """Keep one where it is time for it."""
        last_s = self.moments[-1].state.run_s if self.moments else -EACH_S
        if moment.state.run_s - last_s >= EACH_S:
            self.moments.append(moment)


def scenes(film: list[Moment]) -> dict[str, tuple[int, Moment]]:
    """For each state the place in the film and the moment that is shown there."""

    def first(happened: str) -> int:
        tests: dict[str, Callable[[Moment], bool]] = {
            "melting": lambda m: m.state.run_s > 1500.0,
            "asking": lambda m: m.state.progress.ask is not None and m.state.run_s > 1500.0,
            "ready": lambda m: (
                m.state.progress.phase == len(DARK.phases) - 1
                and m.state.temper.verdict is Temper.IN_TEMPER
                and m.state.progress.ask is None
                and m.state.run_s > film[-1].state.run_s - 1800.0
            ),
        }
        return next(i for i, one in enumerate(film) if tests[happened](one))

    melting, asking, ready = first("melting"), first("asking"), first("ready")
    at_work, held = film[melting], film[ready]
    over = replace(
        held.state.temper,
        verdict=Temper.OVER,
        why="Over-tempered: form V is about 4.6 % of the fat (3.9 to 5.5; 0.5 to 4 is in temper), "
        "by temperatures and the stirrer's load.",
        keeps_s=(float("nan"),) * 3,
    )
    return {
        "idle": (0, but(film[0], mode=Mode.IDLE)),
        "melting": (melting, at_work),
        "asking": (asking, film[asking]),
        "ready": (ready, held),
        "thickening": (ready, but(held, temper=over)),
        "alarm": (melting, but(at_work, notices=(NOTICE,), withheld=(NOTICE.cause,))),
        "lid-off": (melting, replace(at_work, lid=Reading(0.0))),
        "stopped": (melting, but(at_work, mode=Mode.STOPPED, switches=PRESSED)),
        "tripped": (melting, but(at_work, trips=(TRIP,), mode=Mode.ABORTED)),
        "stale": (melting, at_work),
        "broker-gone": (melting, at_work),
    }


def but(given: Moment, **changes: Any) -> Moment:  # noqa: ANN401 - any field of the state
    """The same moment with some of its state otherwise, and so no forecast."""
    return replace(given, state=replace(given.state, outlook=UNKNOWN, **changes))


def tell(watcher: Watcher, given: Moment, run_id: str) -> None:
    """Publish a whole moment, as kept values."""
    paths = [row.path for row in tree(DARK, run_id=run_id, fitted=EVERY_PART)]
    gone = dict.fromkeys((*paths, f"$alert/{NOTICE.cause}", f"$alert/{TRIP.cause}"), "")
    texts = gone | told(given, DARK) | {"run/id": run_id}
    for path, text in texts.items():
        if path != "$state":
            watcher.flood(f"{BASE}/{path}", text.encode(), 1, retain=True)
    watcher.send(f"{BASE}/$state", "ready", retain=True)


def course(watcher: Watcher, film: list[Moment], run_id: str) -> None:
    """Publish what the curve is made of."""
    keep = ("run/summary", "bowl/", "bath/", "run/elapsed", "run/id", "$description")
    for one in film:
        texts = told(one, DARK) | {"run/id": run_id}
        for path in sorted(texts, key=lambda path: path == "run/elapsed"):
            if path.startswith(keep):
                watcher.flood(f"{BASE}/{path}", texts[path].encode(), 1, retain=True)


@contextmanager
def beating(watcher: Watcher) -> Iterator[threading.Event]:
    """A heart that beats until it is told to stop."""
    silent, over = threading.Event(), threading.Event()

    def beat() -> None:
        while not over.wait(0.5):
            if not silent.is_set():
                watcher.flood(f"{BASE}/safety/heartbeat", str(wall_time()).encode(), 1)

    thread = threading.Thread(target=beat)
    thread.start()
    yield silent
    over.set()
    thread.join()


def saved(page: Page, path: Path) -> None:
    """Keep what is seen, in few colours."""
    picture = Image.open(io.BytesIO(page.screenshot(full_page=True))).convert("RGB")
    picture.quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).save(
        path, optimize=True
    )


def shoot(page: Page, folder: Path, name: str, arguments: argparse.Namespace) -> None:
    """One state, in the sizes and schemes that are wanted."""
    for scheme in arguments.scheme:
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        for size in arguments.size:
            width, height = SIZES[size]
            page.set_viewport_size({"width": width, "height": height})
            page.wait_for_timeout(700)  # the curve is drawn anew
            path = folder / f"{name}-{size}-{scheme}.png"
            saved(page, path)
            print(path)


def play(
    page: Page, broker: Mosquitto, name: str, scene: tuple[list[Moment], Moment]
) -> Iterator[None]:
    """Bring the page into a state; what follows the yield undoes it."""
    with Watcher(broker.port) as watcher:
        course(watcher, scene[0], name)
        tell(watcher, scene[1], name)
        with beating(watcher) as silent:
            expect(page.locator('body[data-live="yes"]')).to_have_count(1, timeout=LOOK_MS)
            page.wait_for_timeout(1500)
            if name == "stale":
                silent.set()
            elif name == "broker-gone":
                silent.set()
                broker.kill()
            if silent.is_set():
                expect(page.locator('body[data-live="no"]')).to_have_count(1, timeout=LOOK_MS)
            yield
    if name == "broker-gone":
        broker.start()


def main() -> None:
    """Make the pictures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--only", action="append", help="a state, may be repeated")
    parser.add_argument("--size", action="append", choices=SIZES)
    parser.add_argument("--scheme", action="append", choices=SCHEMES)
    arguments = parser.parse_args()
    arguments.size = arguments.size or list(SIZES)
    arguments.scheme = arguments.scheme or list(SCHEMES)
    mosquitto, browser_path = shutil.which("mosquitto") or "/usr/sbin/mosquitto", found_browser()
    if browser_path is None or not Path(mosquitto).exists():
        parser.error("this wants mosquitto and chromium: apt install mosquitto chromium")
    arguments.folder.mkdir(parents=True, exist_ok=True)
    film = Film()
    run_trial(Trial(profile="dark", seed=1, fitted=("level", "shaft", "load")), tellers=(film,))
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        broker = Mosquitto(mosquitto, home)
        broker.start()
        at = ("--broker", f"127.0.0.1:{broker.port}", "--password", str(password_file(home)))
        with browsing(browser_path) as browser, served(home, *at) as url:
            page = browser.new_page()
            page.goto(url)
            page.locator("#password").fill(PASSWORD)
            page.get_by_role("button", name="Sign in").click()
            for state, (upto, given) in scenes(film.moments).items():
                if not arguments.only or state in arguments.only:
                    for _ in play(page, broker, state, (film.moments[:upto], given)):
                        shoot(page, arguments.folder, state, arguments)
        broker.kill()


if __name__ == "__main__":
    main()
