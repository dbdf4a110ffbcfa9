"""Finding the data that comes with bainward.

Responsible for packages that are there or not; not for the files in them.
"""

import sys

import pytest

from controller.errors import BainwardError
from controller.files.toml_file import package_folder


def test_a_package_that_is_not_installed_is_said_to_be_missing() -> None:
    with pytest.raises(BainwardError, match="install bainward again"):
        package_folder("no_such_package_of_ours")


def test_a_single_module_is_no_folder_of_data() -> None:
    with pytest.raises(BainwardError, match="install bainward again"):
        package_folder("argparse")


def test_finding_the_machines_imports_no_hardware(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [name for name in sys.modules if name.partition(".")[0] == "hardware"]:
        monkeypatch.delitem(sys.modules, name)
    assert (package_folder("hardware") / "bench" / "machines" / "reference.toml").is_file()
    assert "hardware" not in sys.modules
