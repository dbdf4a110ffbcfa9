"""What health can find of page and pushes, planted on a machine that has both and is sound.

Responsible for the table and for planting; not for the machine (well) or any expectation.
"""

from collections.abc import Callable

from controller.health.finding import Weight
from tests.helpers.health_defects import Defect
from tests.helpers.well import USER, Well

REMARK = Weight.REMARK
GUESTS = "services of page and pushes"


def with_guests(spoil: Callable[[Well], object]) -> Callable[[Well], object]:
    """Page and pushes, of which one thing is spoilt."""

    def plant(well: Well) -> None:
        well.with_guests()
        spoil(well)

    return plant


GUEST_DEFECTS = {
    "a page that doesn't run": Defect(
        GUESTS,
        with_guests(lambda well: well.guests.update(ActiveState="failed")),
        "The page should run, and the service bainward-page is failed",
        REMARK,
    ),
    "pushes that don't run": Defect(
        GUESTS,
        with_guests(lambda well: well.guests.update(ActiveState="inactive")),
        "systemctl start bainward-notify starts it",
        REMARK,
    ),
    "a page that ends again and again": Defect(
        GUESTS,
        with_guests(lambda well: well.guests.update(NRestarts="3")),
        "bainward-page was started again 3 times",
        REMARK,
    ),
    "a page whose unit systemd has not read": Defect(
        GUESTS,
        with_guests(lambda well: well.guests.update(NeedDaemonReload="yes")),
        "systemctl restart bainward-page",
        REMARK,
    ),
    "a push file that is wrong": Defect(
        GUESTS,
        with_guests(lambda well: well.push_file.write_text("schema = 1\n", encoding="utf-8")),
        "The push file can't be used: phone.toml",
        REMARK,
    ),
    "a page's password for all to read": Defect(
        "who may change what heats",
        with_guests(lambda well: (well.home / "page.password").chmod(0o644)),
        "Others may read or change the page's password in",
    ),
    "a push token for all to read": Defect(
        "who may change what heats",
        with_guests(lambda well: (well.home / "push-token").chmod(0o644)),
        "Others may read or change the push token in",
    ),
    "a page's password that the user may not read": Defect(
        "the service's user",
        with_guests(lambda well: (well.home / "page.password").chmod(0o600)),
        f"The user {USER} may not read",
    ),
    "a push file that the user may not read": Defect(
        "the service's user",
        with_guests(lambda well: well.push_file.chmod(0o600)),
        f"The user {USER} may not read",
    ),
    "a page's unit of before an upgrade": Defect(
        "units and guard's service",
        with_guests(
            lambda well: (well.unit.parent / "bainward-page.service").write_text(
                'ExecStart="/b" page --machine "m" --listen 0.0.0.0:80\n', encoding="utf-8"
            )
        ),
        "--page 0.0.0.0:80",
    ),
    "pushes' unit by somebody else": Defect(
        "units and guard's service",
        with_guests(
            lambda well: (well.unit.parent / "bainward-notify.service").write_text(
                "ExecStart=/bin/tell\n", encoding="utf-8"
            )
        ),
        "bainward-notify.service is not as this bainward writes it",
    ),
}
