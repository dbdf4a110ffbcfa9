"""The faults of `try` and `sweep`: their options, their list, and what is said of those asked for.

Responsible for words on the terminal; not for how faults are read (trials/faults) or what they do.
"""

import argparse
import sys
from typing import TYPE_CHECKING

from controller.commands.streams import quieten
from controller.core.state import EventName
from controller.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from controller.ports import Moment, Teller
    from controller.trials.faults import FaultPlan, FaultScript

_TELLS = {EventName.ALARM_RAISED, EventName.TRIP_LATCHED}


class ListFaults(argparse.Action):
    """Every fault of the bench, one a line; the bench is imported only when asked."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        """Print them and leave."""
        del namespace, values, option_string
        try:
            sys.stdout.write(fault_list())
            sys.stdout.flush()
        except BrokenPipeError:
            quieten(sys.stdout)  # whoever reads has seen enough
        parser.exit()


def add_faults(command: argparse.ArgumentParser) -> None:
    """Add the options to `try` and `sweep`."""
    command.add_argument(
        "--fault",
        action="append",
        default=[],
        metavar="SPEC",
        help=(
            "NAME[:SIZE][@PHASE[+DELAY]][/LASTS], like relay-welded@hold+10min; without a phase "
            "from the start; may be repeated"
        ),
    )
    command.add_argument(
        "--list-faults",
        action=ListFaults,
        nargs=0,
        default=argparse.SUPPRESS,
        help="show every fault that the bench has, with its usual size",
    )


def fault_list() -> str:
    """Every fault with its usual size, if it has one, and its sentence."""
    from controller.trials.faults import size_text  # noqa: PLC0415 - start-up time
    from controller.wiring import BenchFault  # noqa: PLC0415 - the same

    words = {
        fault: fault if fault.size is None else f"{fault}:{size_text(fault.size, fault.size.usual)}"
        for fault in BenchFault
    }
    widest = max(map(len, words.values()))
    return "".join(f"{word:{widest}}  {fault.says}\n" for fault, word in words.items())


def check_broker(plans: "Sequence[FaultPlan]", *, is_ours: bool) -> None:
    """See that the faults of a broker have one to break.

    Raises:
        UsageError: there is none that this process may stop.
    """
    for plan in plans:
        if "broker" in plan.fault.acts and not is_ours:
            raise UsageError(
                f"{plan.fault} stops the broker that try starts itself, and there is none; leave "
                "--broker and --no-broker out, or name a free port with --port."
            )


def refuse_broker(plans: "Sequence[FaultPlan]") -> None:
    """See that a sweep is given no fault of a broker, for its runs publish nowhere.

    Raises:
        UsageError: there is one.
    """
    for plan in plans:
        if "broker" in plan.fault.acts:
            raise UsageError(
                f"{plan.fault} stops a broker, and the runs of a sweep have none; leave it out, or "
                "try it alone."
            )


class FaultsShown:
    """A teller that says when each fault of a script comes, and knows those that nobody told of."""

    def __init__(self, script: "FaultScript", note: "Callable[[str, float], None]") -> None:
        """Say it by `note`, which takes a line and the run's time in s."""
        self._script = script
        self._note = note
        self._shown = 0
        self._silent: list[FaultPlan] = []

    @property
    def silent(self) -> "tuple[FaultPlan, ...]":
        """The faults that no alarm and no trip has come after."""
        return tuple(self._silent)

    def tell(self, moment: "Moment") -> None:
        """Whatever is told in this tick was seen before the script broke anything in it."""
        if any(event.name in _TELLS for event in moment.events):
            self._silent.clear()
        for plan in self._script.come[self._shown :]:
            self._note(f"broken on the bench: {fault_text(plan)}", moment.state.run_s)
            self._silent.append(plan)
        self._shown = len(self._script.come)


def shown_faults(
    tellers: "Sequence[Teller]", note: "Callable[[str, float], None]"
) -> tuple[FaultsShown, ...]:
    """Who says when the faults of these scripts come; nobody where there is none."""
    from controller.trials.faults import FaultScript  # noqa: PLC0415 - start-up time

    return tuple(FaultsShown(one, note) for one in tellers if isinstance(one, FaultScript))


def untold(tellers: "Sequence[Teller]") -> str:
    """A line for each fault of a run that never came, or that no alarm and no trip came after."""
    from controller.trials.faults import FaultScript  # noqa: PLC0415 - start-up time

    late = [
        f"The run was over before this fault came: {fault_text(plan)}\n"
        for script in tellers
        if isinstance(script, FaultScript)
        for plan in script.to_come
    ]
    silent = [
        f"No alarm and no trip came after this fault: {fault_text(plan)}\n"
        for shown in tellers
        if isinstance(shown, FaultsShown)
        for plan in shown.silent
    ]
    return "".join((*late, *silent))


def fault_text(plan: "FaultPlan") -> str:
    """What will break, and when, in one line."""
    from controller.files.temperatures import duration_text  # noqa: PLC0415 - start-up time
    from controller.trials.faults import size_text  # noqa: PLC0415 - the same

    fault = plan.fault
    size = "" if fault.size is None else f" ({size_text(fault.size, plan.by)})"
    when = "from the start" if plan.phase is None else f"in {plan.phase}"
    if plan.phase is not None and plan.after_s:
        when += f" after {duration_text(plan.after_s)}"
    lasts = "" if plan.lasts_s is None else f", for {duration_text(plan.lasts_s)}"
    return f"{fault}{size} {when}{lasts}: {fault.says}"
