"""Whether a board opens its outputs by itself when its host falls silent, and is still the same.

Responsible for asking it at the start and after it has started anew; not for its outputs.
"""

from controller.ports import Fault
from hardware.modbus.client import BoardPlan, Client
from hardware.modbus.errors import AttachError

# A board that keeps its outputs longer than this without its host is as bad as one that keeps them
# for ever, since heat must end within seconds. Own engineering value, not published.
LONGEST_S = 5.0


class Watchfulness:
    """What a board has said of itself."""

    def __init__(self, client: Client, plan: BoardPlan) -> None:
        """Nothing is asked yet."""
        self._client, self._plan = client, plan
        self._boots: int | None = None

    def insist(self) -> None:
        """Ask for both.

        Raises:
            AttachError: it says nothing, or would keep its outputs too long.
        """
        plan = self._plan
        silent = self._client.read(plan.host_loss)
        where = f"The board at {plan.at}, unit {plan.unit},"
        if silent is Fault.NO_ANSWER:
            raise AttachError(
                f"{where} doesn't answer; check its supply, wires, address, speed and parity."
            )
        if isinstance(silent, Fault) or not silent[0]:
            told = "doesn't tell" if isinstance(silent, Fault) else "has none set of"
            raise AttachError(
                f"{where} {told} the time after which it opens its outputs without its host "
                f"({_named(plan)}), so a lost computer could leave heat on; set it to 2 to "
                f"{LONGEST_S:g} s on the board, or name the right register in host_loss."
            )
        lasts_s = silent[0] * plan.host_loss_step_s
        if lasts_s > LONGEST_S:
            raise AttachError(
                f"{where} keeps its outputs for {lasts_s:g} s without its host ({_named(plan)}); "
                f"set that to 2 to {LONGEST_S:g} s on the board."
            )
        self._boots = self._counted()

    def is_the_same(self) -> bool:
        """Whether it runs on as it was found; after a start of its own it is asked anew."""
        boots = self._counted()
        if boots == self._boots:
            return True
        try:
            self.insist()
        except AttachError:
            return False
        return False  # this once: what it did meanwhile is not known

    def _counted(self) -> int | None:
        if self._plan.boots is None:
            return None
        counted = self._client.read(self._plan.boots)
        return None if isinstance(counted, Fault) else counted[0]


def _named(plan: BoardPlan) -> str:
    return f"{plan.host_loss.table.replace('_', ' ')} {plan.host_loss.address}"
