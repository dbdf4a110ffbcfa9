"""From a machine file to a real machine that hangs on a Modbus board.

Responsible for turning the file's words into the driver's; not for speaking to the board.
"""

from collections.abc import Callable

from controller.files.board_shape import MeasuredAt, ModbusAttach, SwitchedAt
from controller.guard.settings import BoardAt, PointAt
from controller.ports import Heater, Permission
from hardware.modbus.attach import (
    BoardPlan,
    MeasuredPlan,
    ModbusMachine,
    ModbusPlan,
    Point,
    SwitchedPlan,
)

# Wider than any thermometer fit for a kitchen, as with the kernel's: own engineering values, not
# published. The core judges what is believable for a bath.
LOWEST_C, HIGHEST_C = -55.0, 150.0
_MS = 1000


def board_machine(
    attach: ModbusAttach,
    heater: Heater,
    permit: Permission | None,
    clock_s: Callable[[], float],
) -> ModbusMachine:
    """The machine on its board; AttachError of the driver when that can't be."""
    plan = ModbusPlan(
        board=_board(attach.board),
        bath=_thermometer(attach.bath),
        bowl=_thermometer(attach.bowl),
        stirrer=_switched(attach.stirrer),
        cooling=_switched(attach.cooling),
        level=_measured(attach.level),
        shaft=_measured(attach.shaft),
        load=_measured(attach.load),
        lid=_measured(attach.lid),
        stop=_measured(attach.stop),
    )
    return ModbusMachine(plan, heater=heater, permit=permit, clock_s=clock_s)


def _board(at: BoardAt) -> BoardPlan:
    return BoardPlan(
        at=at.at,
        unit=at.unit,
        baud=at.baud,
        parity=at.parity,
        reply_s=at.reply_ms / _MS,
        host_loss=_point(at.host_loss),
        host_loss_step_s=at.host_loss_step_ms / _MS,
        boots=None if at.boots is None else _point(at.boots),
    )


def _point(at: PointAt) -> Point:
    return Point(table=at.table, address=at.address)


def _measured(at: MeasuredAt | None) -> MeasuredPlan | None:
    if at is None:
        return None
    return MeasuredPlan(
        point=_point(at.point),
        step=at.step,
        offset=at.offset,
        signed=at.signed,
        broken=at.broken,
    )


def _thermometer(at: MeasuredAt | None) -> MeasuredPlan | None:
    if at is None:
        return None
    return MeasuredPlan(
        point=_point(at.point),
        step=at.step,
        offset=at.offset,
        signed=at.signed,
        broken=at.broken,
        lowest=LOWEST_C,
        highest=HIGHEST_C,
        is_thermometer=True,
    )


def _switched(at: SwitchedAt | None) -> SwitchedPlan | None:
    if at is None:
        return None
    shown = None if at.shown is None else _point(at.shown)
    return SwitchedPlan(coil=_point(at.coil), shown=shown)
