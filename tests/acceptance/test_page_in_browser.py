"""The page in a real browser, in each state, from a real broker; and answers that reach a run."""

import re
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Route, expect

from controller.core.signals import Reading
from controller.files.machine_file import bench_machine_path
from controller.link.settings import LinkSettings
from controller.page.app import STATIC
from controller.page.stream import LOOK_S
from controller.view.board import OLD_AFTER_S
from tests.helpers.brokers import Mosquitto, free_port
from tests.helpers.moments import moment
from tests.helpers.paging import (
    DARK,
    PASSWORD,
    STATES,
    SWAP,
    browser_path,
    browsing,
    password_file,
    served,
)
from tests.helpers.process import end, start
from tests.helpers.telling import Telling
from tests.helpers.watcher import Watcher

pytestmark = pytest.mark.mosquitto
FAR_MS = 60_000  # never reached unless something is wrong
expect.set_options(timeout=FAR_MS)
SIZES = {"phone": (390, 844), "tablet": (1024, 768)}
BASE = "homie/5/bainward"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with browsing(browser_path()) as made:
        yield made


@pytest.fixture(scope="module")
def broker(executable: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Mosquitto]:
    made = Mosquitto(executable, tmp_path_factory.mktemp("broker"))
    made.start()
    yield made
    made.kill()


@pytest.fixture(scope="module")
def url(broker: Mosquitto, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    home = tmp_path_factory.mktemp("page")
    at = ("--broker", f"127.0.0.1:{broker.port}", "--password", str(password_file(home)))
    with served(home, *at) as where:
        yield where


@pytest.fixture
def machine(broker: Mosquitto) -> Iterator[Telling]:
    with Telling(LinkSettings(port=broker.port), DARK) as made:
        yield made


@pytest.fixture
def page(browser: Browser, url: str) -> Iterator[Page]:
    made = browser.new_page(color_scheme="light")
    trouble: list[str] = []
    made.on("pageerror", lambda error: trouble.append(str(error)))
    made.on("request", lambda one: None if one.url.startswith(url) else trouble.append(one.url))
    made.goto(url)
    yield made
    made.close()
    assert trouble == []  # no script failed, and nothing was asked of anybody else


def is_live(page: Page, live: str = "yes") -> None:
    expect(page.locator(f'body[data-live="{live}"]')).to_have_count(1)


def serious(page: Page) -> list[str]:
    """What keeps somebody with other eyes or hands from using it, by axe-core's rules."""
    found = Axe().run(page).response["violations"]
    return [
        f"{one['id']}: {node['html'][:200]}"
        for one in found
        if one["impact"] in {"serious", "critical"}
        for node in one["nodes"]
    ]


@pytest.mark.parametrize("name", STATES)
def test_each_state_is_read_from_across_the_room(name: str, machine: Telling, page: Page) -> None:
    changes, word, tone = STATES[name]
    machine.show(**changes)
    expect(page.locator(f'body[data-tone="{tone}"][data-live="yes"]')).to_have_count(1)
    expect(page.locator("#word")).to_have_text(word)
    for scheme, (width, height) in zip(("light", "dark"), SIZES.values(), strict=True):
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type] # two of its words
        page.set_viewport_size({"width": width, "height": height})
        wide = page.locator("html").evaluate("root => root.scrollWidth - root.clientWidth")
        assert wide <= 0
        assert serious(page) == []
    # A letter of 100 px is about 2 cm high on a tablet (1024 px on 20 cm).
    size = page.locator("#word").evaluate("word => parseFloat(getComputedStyle(word).fontSize)")
    assert size >= 100


def test_a_lid_that_is_off_is_said_below_the_sentence(machine: Telling, page: Page) -> None:
    is_live(page)
    expect(page.locator("#remark")).to_be_hidden()
    machine.show(moment(lid=Reading(0.0)))
    expect(page.locator("#remark")).to_contain_text("The lid is off")
    assert serious(page) == []
    machine.show(moment(lid=Reading(1.0)))
    expect(page.locator("#remark")).to_be_hidden()


@pytest.mark.parametrize("file", ["page.js", "curve.js", "page.css"])
def test_a_file_that_does_not_come_is_asked_for_again(
    browser: Browser, url: str, machine: Telling, file: str
) -> None:
    page = browser.new_page()
    page.clock.install()
    asked: list[bool] = []
    page.on("request", lambda one: asked.append(one.is_navigation_request()))

    def fails_at_first(route: Route) -> None:
        """However often it is asked for: a module may be once, or once more beforehand."""
        if sum(asked) < 2:
            route.abort()
        else:
            route.continue_()

    page.route(f"**/{file}", fails_at_first)
    page.goto(url)
    assert machine.link.connected
    with page.expect_navigation():
        page.clock.run_for(6000)
    is_live(page)
    page.clock.run_for(6000)
    assert sum(asked) == 2  # once more, though two requests for curve.js may have failed
    page.close()


def test_a_silent_machine_is_shown_as_old_and_comes_back(machine: Telling, page: Page) -> None:
    is_live(page)
    machine.fall_silent()
    is_live(page, "no")
    expect(page.locator("#word")).to_have_text("Not live")
    expect(page.locator("#age")).to_have_text(re.compile(r"^\d+ s old$"))
    expect(page).to_have_title(re.compile(r"^Not live"))
    assert serious(page) == []
    machine.show()
    is_live(page)


def test_whatever_falls_silent_is_shown_as_old_within_five_seconds() -> None:
    script = (STATIC / "page.js").read_text("utf-8")
    looks_ms, silent_ms = (
        int(re.search(rf"const {name} = (\d+)", script)[1])  # type: ignore[index] # it is there
        for name in ("LOOK_MS", "SILENT_MS")
    )
    assert OLD_AFTER_S + LOOK_S + looks_ms / 1000.0 < 5.0
    assert (silent_ms + looks_ms) / 1000.0 < 5.0


def test_a_broker_that_is_gone_is_said_and_found_again(
    broker: Mosquitto, machine: Telling, page: Page
) -> None:
    is_live(page)
    assert machine.link.connected
    broker.kill()
    expect(page.locator("#word")).to_have_text("No broker")
    is_live(page, "no")
    broker.start()
    is_live(page)


def test_a_machine_that_left_or_was_lost_is_no_live_machine(broker: Mosquitto, page: Page) -> None:
    with Telling(LinkSettings(port=broker.port), DARK):
        is_live(page)
    expect(page.locator("#word")).to_have_text("Not running")
    with Watcher(broker.port) as watcher:
        watcher.send(f"{BASE}/$state", "lost", retain=True)
    expect(page.locator("#word")).to_have_text("Machine lost")
    is_live(page, "no")


def test_a_page_for_the_whole_network_is_found_by_the_computers_name(
    browser: Browser, tmp_path: Path
) -> None:
    at = ("--listen", "0.0.0.0:0", "--broker", f"127.0.0.1:{free_port()}")  # nobody is there
    with served(tmp_path, *at) as url:
        assert url.startswith(f"http://{socket.gethostname()}:")
        page = browser.new_page()
        page.goto(f"http://127.0.0.1:{url.rpartition(':')[2]}")
        expect(page.locator("#word")).to_have_text("No broker")
        expect(page.locator("#sentence")).to_contain_text("Connection refused")
        expect(page.locator("#answers")).to_be_hidden()
        assert serious(page) == []
        page.close()


def test_a_page_that_lost_its_server_says_so(
    browser: Browser, broker: Mosquitto, machine: Telling, tmp_path: Path
) -> None:
    page = browser.new_page()
    with served(tmp_path, "--broker", f"127.0.0.1:{broker.port}") as url:
        page.goto(url)
        is_live(page)
        assert machine.link.connected
    is_live(page, "no")
    expect(page.locator("#sentence")).to_contain_text("can't reach its server")
    page.close()


def test_everything_can_be_done_with_the_keyboard_alone(machine: Telling, page: Page) -> None:
    machine.show(ask=SWAP, phase=1)
    expect(page.locator("#choices .word")).to_have_text("Done")
    expect(page.locator("#spoken")).to_have_text(re.compile(r"Your turn\. Swap 1\.3 kg"))
    page.keyboard.press("Tab")
    expect(page.locator("#password")).to_be_focused()
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.locator("#controls")).to_be_visible()
    page.keyboard.press("Tab")
    page.locator("#choices button").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("The run")
    (request,) = machine.link.take(0.0, SWAP)
    assert (request.ask_id, request.choice) == (SWAP.id, "done")
    machine.show(phase=1)
    expect(page.locator("#choices")).to_be_hidden()


def test_a_stop_is_not_refused_while_another_wish_is_on_its_way(
    machine: Telling, page: Page
) -> None:
    machine.show(phase=1)
    page.locator("#password").fill(PASSWORD)
    press(page, "Sign in")
    press(page, "Pause")  # nobody takes it, so it is under way for seconds
    with page.expect_response(lambda one: '"stop"' in (one.request.post_data or "")) as stop:
        press(page, "Stop the run")
        press(page, "Press again to stop")
    assert "used before" not in stop.value.json()["said"]


def test_before_anything_is_heard_no_figure_is_shown(browser: Browser, url: str) -> None:
    page = browser.new_page(java_script_enabled=False)  # so that it stays as it was sent
    page.goto(url)
    expect(page.locator("#word")).to_have_text("One moment")
    expect(page.locator("#answers")).to_be_hidden()
    page.close()


def test_a_wrong_password_opens_nothing(machine: Telling, page: Page) -> None:
    is_live(page)
    assert machine.link.connected
    page.locator("#password").fill("swirl-the-bath")
    press(page, "Sign in")
    expect(page.locator("#said")).to_have_text("That is not the page's password.")
    expect(page.locator("#controls")).to_be_hidden()


@pytest.fixture
def kitchen(broker: Mosquitto, tmp_path: Path) -> Path:
    """A machine of the bench that takes signed requests, also for what leads to heat."""
    key = tmp_path / "signing.key"
    key.write_text("0123456789abcdef" * 4, encoding="utf-8")
    key.chmod(0o600)
    path = tmp_path / "kitchen.toml"
    shipped = bench_machine_path("reference").read_text("utf-8")
    table = f'port = {broker.port}\nremote = "signed"\nsigning_key = "{key}"\n'
    path.write_text(f"{shipped}\n[mqtt]\n{table}", encoding="utf-8")
    return path


def test_answers_and_wishes_reach_a_run_on_the_bench(
    browser: Browser, broker: Mosquitto, kitchen: Path, tmp_path: Path
) -> None:
    at = ("--machine", str(kitchen), "--broker", f"127.0.0.1:{broker.port}")
    page = browser.new_page()
    with served(tmp_path, *at, "--try", "--password", str(password_file(tmp_path))) as url:
        run = start(tmp_path, "try", "dark", "--you-answer", *at)
        try:
            page.goto(url)
            page.locator("#password").fill(PASSWORD)
            press(page, "Sign in")
            press(page, "Dark")
            expect(page.locator("#word")).to_have_text("Melting")
            press(page, "Pause")
            expect(page.locator("#word")).to_have_text("Paused")
            press(page, "Go on")
            expect(page.locator("#word")).to_have_text("Melting")
            press(page, "Stop the run")
            press(page, "Press again to stop")
            code, out, err = end(run)
        finally:
            run.kill()
        assert (code, err) == (5, ""), out
        expect(page.locator("#word")).to_have_text("Not running")
        page.close()


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()
