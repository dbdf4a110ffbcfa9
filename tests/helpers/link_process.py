"""A process that does nothing but hold a link, to be killed by a test.

Run as `python -m tests.helpers.link_process PORT`.
"""

import sys
import threading

from controller.link.link import Link
from controller.link.settings import LinkSettings
from tests.helpers.logs import listening_log
from tests.helpers.moments import moment, profile

if __name__ == "__main__":
    log, _ = listening_log()
    link = Link(LinkSettings(port=int(sys.argv[1])), profile(), run_id="a", log=log)
    link.tell(moment())
    link.start()
    threading.Event().wait()
