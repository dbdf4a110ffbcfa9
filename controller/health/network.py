"""The check of the broker: it is there and lets the machine in.

Responsible for one short visit under another name; nothing is published.
"""

from controller.errors import BainwardError
from controller.health.finding import Findings, Place, fault, remark
from controller.link.asking import visit


def broker(place: Place) -> Findings:
    """A broker that is away ends no run, and nobody afar is told of one."""
    link = place.machine_file.link
    if link is None:
        return
    try:
        refusal = visit(link)
    except BainwardError as error:
        yield fault(str(error))  # a secret that others may read, or a file that is no certificate
        return
    if refusal:
        yield remark(refusal)
