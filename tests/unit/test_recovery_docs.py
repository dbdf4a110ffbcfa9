"""The table of offers in the documents is the one in force."""

import re
from pathlib import Path

from controller.core.recovery import table

README = Path(__file__).parents[2] / "controller" / "README.md"


def test_the_documents_show_the_table_of_offers_that_is_in_force() -> None:
    text = README.read_text(encoding="utf-8")
    found = re.search(r"<!-- offers -->\n(.*?)\n<!-- end -->", text, re.DOTALL)
    assert found is not None
    assert found[1] == table()
