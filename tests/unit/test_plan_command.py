"""The command `plan`: options, plan files, hours on the local clock, and the page in README.md."""

import re
import shlex
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from controller.commands.main import main
from controller.commands.options import parser
from controller.commands.planning import planned
from controller.errors import BainwardError, Exit
from controller.files.machine_file import bench_machine_path
from controller.files.profile_file import shipped_profiles

README = Path(__file__).resolve().parents[2] / "README.md"
NOON = datetime(2031, 2, 3, 12, 0).astimezone()
FILE = """\
schema = 1
chocolate = "dark"
fat = "38 %"
room = "27 C"
humidity = 72
by = "tomorrow 15:00"

[[make]]
name = "hollow egg"
shape = "egg"
size = "160 x 110 mm"
wall = "3 mm"

[[make]]
name = "candied-peel sticks"
count = 48
centre = "8 g"
coating = "40 %"
"""


def page(*words: str, now: datetime = NOON) -> str:
    """What the command prints."""
    return planned(parser().parse_args(["plan", *words]), now)


def refusal(*words: str, code: Exit = Exit.USAGE) -> str:
    """The sentence in which it is refused."""
    with pytest.raises(BainwardError) as caught:
        page(*words)
    assert caught.value.exit_code is code
    return str(caught.value)


@pytest.fixture
def plan_file(tmp_path: Path) -> Path:
    """The egg and the sticks."""
    path = tmp_path / "easter.toml"
    path.write_text(FILE, encoding="utf-8")
    return path


def test_a_batch_alone_is_enough() -> None:
    text = page("--batch", "1.2 kg")
    assert text.startswith("Plan: 1.2 kg of dark chocolate\n")
    assert "Begin" not in text
    assert "Ready after" in text


def test_a_plan_file_and_options_say_the_same(plan_file: Path) -> None:
    options = ["--fat", "38 %", "--room", "27 C", "--humidity", "72 %", "--by", "tomorrow 15:00"]
    options += ["--shell", "hollow egg: egg 160 x 110 mm, wall 3 mm"]
    options += ["--pieces", "candied-peel sticks: 48 x 8 g at 40 %"]
    assert page(str(plan_file)) == page(*options)


def test_options_win_over_the_file_and_add_to_what_is_made(plan_file: Path) -> None:
    text = page(str(plan_file), "--room", "20 C", "--pieces", "nuts: 20 x 5 g at 40 %")
    assert "20.0 °C and 72 %" in text
    assert "hollow egg and 48 candied-peel sticks and 20 nuts" in text.replace("\n", " ")


def test_a_fault_is_told_of_where_it_stands(plan_file: Path) -> None:
    path = str(plan_file)
    plan_file.write_text(FILE.replace('"8 g"', '"8 kg"'), encoding="utf-8")
    said = refusal(path, code=Exit.BAD_FILE)
    assert said.startswith('easter.toml, make "candied-peel sticks" · centre: "8 kg" can')
    plan_file.write_text(FILE.replace("wall =", "wal ="), encoding="utf-8")
    assert "did you mean wall?" in refusal(path, code=Exit.BAD_FILE)
    plan_file.write_text(FILE.replace('"hollow egg"', "true"), encoding="utf-8")
    assert "is no quantity" in refusal(path, code=Exit.BAD_FILE)
    plan_file.write_text(FILE.replace("72", "'0.72'"), encoding="utf-8")
    assert "humidity: " in refusal(path, code=Exit.BAD_FILE)
    assert "no such file" in refusal("nowhere.toml", code=Exit.BAD_FILE)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "--batch: nothing is to be made"),
        (["--batch", "1200 kg"], "--batch: "),
        (["--batch", "1 kg", "--room", "81 C"], "did you mean 81 F?"),
        (["--pieces", "48"], "--pieces: "),
        (["--pieces", "48 x 8 kg at 40 %"], '--pieces "48 x 8 kg at 40 %" · centre: '),
        (["--batch", "1 kg", "--by", "yesterday"], "--by: "),
        (["--batch", "1 kg", "--ready-at", "25:00"], "--ready-at: "),
        (["--batch", "1 kg", "--chocolate", "milk", "--profile", "dark"], "is for dark chocolate"),
    ],
)
def test_what_makes_no_sense_is_refused_in_one_sentence(words: list[str], said: str) -> None:
    found = refusal(*words)
    assert said in found
    assert "\n" not in found
    assert found.endswith((".", "?"))


def test_the_kind_chooses_its_profile() -> None:
    assert "bainward run dark-seeded" in page("--batch", "1 kg")
    milk = "milk-seeded" if "milk-seeded" in shipped_profiles() else "milk"
    assert f"bainward run {milk} --" in page("--batch", "1 kg", "--chocolate", "milk")
    assert "bainward run dark --m" in page("--batch", "1 kg", "--profile", "dark").replace("\n", "")


def begins(text: str) -> tuple[datetime, datetime]:
    """The sure hour and the even one, of the day after `NOON`."""
    found = re.search(r"Begin at (\d+):(\d+).*\(at\s+(\d+):(\d+)", text, re.DOTALL)
    assert found is not None
    hours = [int(number) for number in found.groups()]
    day = NOON + timedelta(days=1)
    sure, even = (
        day.replace(hour=hours[0], minute=hours[1]),
        day.replace(hour=hours[2], minute=hours[3]),
    )
    return sure, even


def test_beginning_early_enough_makes_sure_and_pieces_want_their_time() -> None:
    ready = begins(page("--batch", "1 kg", "--ready-at", "tomorrow 15:00"))
    bare = begins(page("--batch", "1 kg", "--by", "tomorrow 15:00"))
    pieces = ["--batch", "1 kg", "--pieces", "60 x 8 g at 40 %"]
    made = begins(page(*pieces, "--by", "tomorrow 15:00"))
    assert ready[0] < ready[1]
    assert bare == ready
    assert timedelta(minutes=49) <= ready[1] - made[1] <= timedelta(minutes=51)
    assert made[0] < ready[0] - timedelta(minutes=50)


def test_an_hour_that_is_too_near_says_what_can_still_be_had() -> None:
    text = page("--batch", "1.5 kg", "--ready-at", "12:30").replace("\n            ", " ")
    assert "Too late to be ready by 12:30 nine times in ten" in text
    assert re.search(r"Begun now, it is likely at 1[23]:\d\d, nine times in ten by 13:\d\d", text)


def test_what_can_t_be_reached_has_no_hours_but_a_reason(tmp_path: Path) -> None:
    path = tmp_path / "cold.toml"
    text = bench_machine_path("weak-heater").read_text(encoding="utf-8")
    path.write_text(text.replace('heater = "200 W"', 'heater = "100 W"'), encoding="utf-8")
    cold = ["--machine", str(path), "--room", "8 C"]
    plan = page("--batch", "1 kg", "--by", "tomorrow 15:00", *cold)
    assert "done by 15:00 tomorrow" in plan.replace("\n", " ")
    assert "None can be told. 48.0 °C won't be reached" in plan
    assert "Begin" not in plan


def test_summer_time_is_minded(monkeypatch: pytest.MonkeyPatch) -> None:
    import time  # noqa: PLC0415 - the zone alone, no clock is read

    monkeypatch.setenv("TZ", "Europe/Paris")
    time.tzset()
    try:
        now = datetime(2031, 3, 29, 12, 0, tzinfo=ZoneInfo("Europe/Paris"))
        spring = page("--batch", "1 kg", "--ready-at", "tomorrow 03:30", now=now)
        plain = page("--batch", "1 kg", "--ready-at", "2031-03-31 03:30", now=now)
        gap = begins(plain)[1] - begins(spring)[1]
        assert gap == timedelta(hours=1)  # from 2 to 3 o'clock there is nothing
    finally:
        monkeypatch.undo()
        time.tzset()


def test_the_sheet_is_written_where_it_is_wanted_and_printed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "sheet.txt"
    assert main(["plan", "--batch", "1 kg", "--sheet", str(path)]) == Exit.DONE
    assert path.read_text(encoding="utf-8") == capsys.readouterr().out
    assert [one.name for one in tmp_path.iterdir()] == ["sheet.txt"]
    folder = tmp_path / "folder"
    folder.mkdir()
    assert main(["plan", "--batch", "1 kg", "--sheet", str(folder)]) == Exit.NO_PERMISSION
    assert "can't be written" in capsys.readouterr().err
    assert sorted(one.name for one in tmp_path.iterdir()) == ["folder", "sheet.txt"]


def without_hours(text: str) -> list[str]:
    """The page without the figures that rest on the forecast, which is tuned now and then."""
    lines = text.strip().splitlines()
    return [line for line in lines if not re.search(r"\d\d:\d\d|\d h \d\d|kWh|evaporate", line)]


def plan_of_the_readme() -> str:
    """What README.md says of plans."""
    text = README.read_text(encoding="utf-8")
    return text.partition("<!-- plan -->")[2].partition("\n## ")[0]


def shown_words() -> list[str]:
    """The words of its command."""
    words = shlex.split(plan_of_the_readme().split("```")[1].replace("\\\n", " "))
    assert words[:3] == ["sh", "bainward", "plan"]
    return words[3:]


@pytest.fixture
def copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that looks like a copy of the repository, to work in."""
    (tmp_path / "profiles").symlink_to(README.parent / "profiles")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.usefixtures("copy")
def test_the_plan_file_in_the_readme_says_the_same_as_its_command() -> None:
    path = Path("egg.toml")
    path.write_text(plan_of_the_readme().partition("```toml\n")[2].partition("```")[0], "utf-8")
    assert page(str(path), "--tap", "18 C", "--fridge", "6 C") == page(*shown_words())


def test_the_demo_s_plan_is_the_one_in_the_readme(copy: Path) -> None:
    path = Path("profiles") / "examples" / "afternoon-plan.toml"
    told = page(str(path), "--by", "tomorrow 15:00")
    assert told == page(*shown_words())
    assert "112 g first, 43 g with the bowl" in told
    # A profile's path goes from where the plan lies, and the run is told by that path.
    assert f"bainward run {copy}/profiles/examples/egg-and-sticks.toml" in " ".join(
        page(str(copy / path), "--by", "tomorrow 15:00").split()
    )


@pytest.mark.usefixtures("copy")
def test_the_page_in_the_readme_is_what_its_command_prints() -> None:
    shown = plan_of_the_readme().split("```")[3]
    assert without_hours(page(*shown_words())) == without_hours(shown)
