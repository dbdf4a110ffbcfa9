"""What a machine publishes at a moment, without a broker in between.

Responsible for the texts of the real tree; not for any expectation.
"""

from typing import Any

from controller.core.profile import Profile
from controller.link.fitted_rows import EVERY_PART
from controller.link.homie import describe
from controller.link.tree import NODES, alerts, tree
from controller.ports import Moment
from tests.helpers.moments import moment, profile

BEGAN = "2026-11-25T06:00:00+00:00"
BASE = "homie/5/bainward"


def told(given: Moment | None = None, own: Profile | None = None, **more: Any) -> dict[str, str]:  # noqa: ANN401 - any argument of the tree
    """The text of each topic, by its path."""
    given = given or moment()
    rows = tree(own or profile(), run_id="a", began_utc=BEGAN, fitted=EVERY_PART, **more)
    texts = {row.path: row.value(given) for row in rows}
    return {
        "$state": "ready",
        "$description": describe(rows, name="Kitchen", nodes=NODES),
        **{path: text for path, text in texts.items() if text is not None},
        **{f"$alert/{cause}": text for cause, text in alerts(given).items()},
    }
