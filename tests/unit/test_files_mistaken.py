"""A file of another kind is told as such, in one sentence."""

from pathlib import Path

import pytest

from controller.commands.main import main
from controller.errors import Exit, ProfileError
from controller.files.machine_file import bench_machine_path
from controller.files.profile_file import load_profile
from tests.helpers.scene import machine

PROFILE = Path(__file__).resolve().parents[2] / "profiles" / "dark.toml"
MACHINE = bench_machine_path("reference")


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    """A plan of a few pieces."""
    path = tmp_path / "easter.toml"
    made = 'count = 4\ncentre = "8 g"\ncoating = "40 %"\n'
    path.write_text(f'schema = 1\nchocolate = "dark"\n[[make]]\nname = "sticks"\n{made}')
    return path


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main([*words]) == Exit.BAD_FILE
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    return said


def test_a_file_of_another_kind_is_refused_in_one_sentence_that_says_where_it_belongs(
    plan: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert refused(capsys, "try", str(MACHINE)) == (
        "bainward: reference.toml: a profile is wanted here, and this is a machine file; "
        "this one goes after --machine\n"
    )
    assert "this is a profile" in refused(capsys, "check", "--machine", str(PROFILE))
    assert "for bainward plan" in refused(capsys, "check", "--machine", str(plan))
    assert "this is a plan" in refused(capsys, "try", str(plan))
    assert "a plan is wanted here" in refused(capsys, "plan", str(PROFILE))
    assert "goes after --machine" in refused(capsys, "plan", str(MACHINE))


def test_a_file_that_lacks_its_own_table_still_hears_of_each_key(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("schema = 1\nphase = 3\nattach = 4\n", encoding="utf-8")
    with pytest.raises(ProfileError, match="phase: must be a list of tables"):
        load_profile(str(path), machine())
