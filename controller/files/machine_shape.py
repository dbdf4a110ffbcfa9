"""The tables of a machine file and how they become the core's machine.

Responsible for keys, single values and defaults; not for finding the file (machine_file).
"""

import re
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from controller.core.machine import COLD_WATER_C, MAINS_V, Cooler, Machine
from controller.files.attach_shape import AttachTable, BenchTable
from controller.files.guard_shape import GuardTable
from controller.files.shapes import (
    Batch,
    BathTemperature,
    BowlTemperature,
    Carried,
    ColdWater,
    FileTable,
    Loss,
    Mains,
    Offset,
    Period,
    Power,
    RelayTime,
    RoomTemperature,
    Sentence,
    Table,
    Vessel,
    Water,
    Word,
)
from controller.files.temperatures import quoted
from controller.files.toml_file import beside
from controller.link.settings import PATH, LinkSettings, Remote, Tls, Transport

_MOST_PORT = 65535
_HOST = re.compile(r"[A-Za-z0-9._:\[\]-]{1,253}")
_PATH = re.compile(r"/[A-Za-z0-9._~/-]{0,127}")  # of a URL: RFC 3986, less what few need
_VARIABLE = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,63}")


class RelayKind(StrEnum):
    """What switches the heater."""

    SOLID_STATE = "solid-state"
    MECHANICAL = "mechanical"


# Shortest time on and off. A mechanical relay has about 1e5 switchings in it, so it gets longer
# ones; 2 and 8 s were studied for ripple. Own engineering values, not published.
_SHORTEST_S = {RelayKind.SOLID_STATE: 2.0, RelayKind.MECHANICAL: 8.0}


def _host(raw: object) -> str:
    if not isinstance(raw, str) or not _HOST.fullmatch(raw):
        raise ValueError(f'{quoted(raw)} is no host name; write a name or address like "127.0.0.1"')
    return raw


def _path(raw: object) -> str:
    if not isinstance(raw, str) or not _PATH.fullmatch(raw):
        raise ValueError(f'{quoted(raw)} is no path of websockets; write one like "/mqtt"')
    return raw


def _variable(raw: object) -> str:
    if not isinstance(raw, str) or not _VARIABLE.fullmatch(raw):
        raise ValueError(
            f"{quoted(raw)} is no name of an environment variable; write one like "
            '"BAINWARD_MQTT_PASSWORD", and put the password into it, not here'
        )
    return raw


def _no_password(_raw: object) -> None:
    raise ValueError(
        "a password does not belong in this file; put it alone into a file that only you can "
        'read and write password_file = "mqtt-password"'
    )


def _beside(folder: Path, path: str | None) -> Path | None:
    return None if path is None else beside(folder, path)


class LimitsTable(Table):
    """`[limits]`: what the machine must never pass, whatever a profile says."""

    bath: BathTemperature = Field(examples=['"62 C"'])
    bowl: BowlTemperature = Field(examples=['"60 C"'])


class BathTable(Table):
    """`[bath]`: the heated water."""

    water: Water
    cold_water: ColdWater = COLD_WATER_C
    vessel: Vessel
    heater: Power
    mains: Mains = MAINS_V
    loss: Loss


class BowlTable(Table):
    """`[bowl]`: the chocolate, seed included."""

    batch: Batch


class RelayTable(Table):
    """`[relay]`: the heater's switch."""

    kind: RelayKind = Field(strict=False, examples=['"solid-state"'])
    min_on: RelayTime | None = None
    min_off: RelayTime | None = None

    @property
    def min_on_s(self) -> float:
        """Shortest time on, s."""
        return _SHORTEST_S[self.kind] if self.min_on is None else self.min_on

    @property
    def min_off_s(self) -> float:
        """Shortest time off, s."""
        return _SHORTEST_S[self.kind] if self.min_off is None else self.min_off


class CoolingKind(StrEnum):
    """What takes heat from the bath."""

    PUMP = "pump"  # or a valve: cold water through the bath, or through a coil in it
    FAN = "fan"


class CoolingTable(Table):
    """`[cooling]`: an output that takes heat from the bath."""

    kind: CoolingKind = Field(strict=False, examples=['"pump"'])
    carries: Carried = Field(examples=['"70 W/K"'])
    min_on: RelayTime = 5.0  # own engineering values, not published: easy on a small pump's motor
    min_off: RelayTime = 10.0

    def core(self, water_c: float, room_c: float) -> Cooler:
        """The core's cooling output."""
        is_fan = self.kind is CoolingKind.FAN
        return Cooler(
            carries_w_per_k=self.carries,
            sink_c=room_c if is_fan else water_c,
            min_on_s=self.min_on,
            min_off_s=self.min_off,
            is_fan=is_fan,
        )


class ProbesTable(Table):
    """`[probes]`: what is added to each thermometer's reading."""

    bath_offset: Offset = 0.0
    bowl_offset: Offset = 0.0


class FittedTable(Table):
    """`[fitted]`: what the machine has, beyond or short of two thermometers and a stirrer."""

    bath_probe: bool = Field(default=True, examples=["true"])
    bowl_probe: bool = Field(default=True, examples=["true"])
    stirrer: bool = Field(default=True, examples=["true"])
    level_switch: bool = Field(examples=["false"])
    shaft_pulses: bool = Field(examples=["false"])
    load_signal: bool = Field(examples=["false"])
    mains_live: bool = Field(default=False, examples=["true"])
    heater_current: bool = Field(default=False, examples=["true"])
    lid_switch: bool = Field(default=False, examples=["true"])
    stop_button: bool = Field(default=False, examples=["true"])


class MqttTable(Table):
    """`[mqtt]`: the broker that the run is told to."""

    host: Annotated[str, BeforeValidator(_host), Field(examples=['"127.0.0.1"'])] = "127.0.0.1"
    port: Annotated[int, Field(ge=1, le=_MOST_PORT, examples=["1883"])] = 1883
    transport: Transport = Field(Transport.TCP, strict=False, examples=['"websockets"'])
    path: Annotated[str, BeforeValidator(_path)] | None = None
    device: Word = Field("bainward", examples=['"bainward"'])
    username: Sentence | None = None
    password_file: Sentence | None = None
    password_variable: Annotated[str, BeforeValidator(_variable)] | None = None
    password: Annotated[None, BeforeValidator(_no_password)] = None
    ca: Sentence | None = None
    certificate: Sentence | None = None
    key: Sentence | None = None
    remote: Remote = Field(Remote.OFF, strict=False, examples=['"off"'])
    signing_key: Sentence | None = None
    home_assistant: bool = Field(default=False, examples=["true"])
    unit: Literal["C", "F"] = Field("C", examples=['"C"'])

    def settings(self, folder: Path) -> LinkSettings:
        """The link's settings; files with a relative path lie beside the machine file."""
        return LinkSettings(
            host=self.host,
            port=self.port,
            transport=self.transport,
            path=self.path or PATH,
            device_id=self.device,
            username=self.username,
            password_file=_beside(folder, self.password_file),
            password_variable=self.password_variable,
            tls=None
            if self.ca is None
            else Tls(
                ca_file=beside(folder, self.ca),
                certificate_file=_beside(folder, self.certificate),
                key_file=_beside(folder, self.key),
            ),
            remote=self.remote,
            signing_key_file=_beside(folder, self.signing_key),
            fahrenheit=self.unit == "F",
            home_assistant=self.home_assistant,
        )


class JournalTable(Table):
    """`[journal]`: where runs are written down."""

    folder: Sentence = Field(examples=['"journal"'])


class MachineTable(FileTable):
    """A whole machine file."""

    name: Word = Field(examples=['"kitchen"'])
    period: Period = 1.0
    room: RoomTemperature = 20.0
    limits: LimitsTable = Field(examples=["[limits]"])
    bath: BathTable = Field(examples=["[bath]"])
    bowl: BowlTable = Field(examples=["[bowl]"])
    relay: RelayTable = Field(examples=["[relay]"])
    cooling: CoolingTable | None = None
    probes: ProbesTable = ProbesTable()
    fitted: FittedTable = Field(examples=["[fitted]"])
    attach: AttachTable = Field(examples=["[attach]"])
    mqtt: MqttTable | None = None
    journal: JournalTable | None = None
    guard: GuardTable | None = None

    @property
    def sees_mains(self) -> bool:
        """Whether the guard sees voltage behind the switches: a real one by a line of its own."""
        if not isinstance(self.attach, BenchTable):
            return self.guard is not None and self.guard.mains_live is not None
        return self.fitted.mains_live

    @property
    def has_second(self) -> bool:
        """Whether there is another switch in series with the heater's relay."""
        if isinstance(self.attach, BenchTable):
            return self.attach.second_switch
        return self.guard is not None and self.guard.second is not None

    def core(self) -> Machine:
        """The core's machine."""
        cooling = self.cooling
        return Machine(
            name=self.name,
            period_s=self.period,
            bath_max_c=self.limits.bath,
            bowl_max_c=self.limits.bowl,
            water_kg=self.bath.water,
            vessel_j_per_k=self.bath.vessel,
            batch_kg=self.bowl.batch,
            heater_w=self.bath.heater,
            loss_w_per_k=self.bath.loss,
            room_c=self.room,
            cold_water_c=self.bath.cold_water,
            cooler=None if cooling is None else cooling.core(self.bath.cold_water, self.room),
            min_on_s=self.relay.min_on_s,
            min_off_s=self.relay.min_off_s,
            bath_offset_k=self.probes.bath_offset,
            bowl_offset_k=self.probes.bowl_offset,
            has_level=self.fitted.level_switch,
            has_shaft=self.fitted.shaft_pulses,
            has_load=self.fitted.load_signal,
            has_guard=True,  # no machine heats without one
            keeps_trips=not isinstance(self.attach, BenchTable),  # the bench's ends with its run
            has_second=self.has_second,
            has_mains=self.sees_mains,
            has_current=self.fitted.heater_current,
            has_lid=self.fitted.lid_switch,
            has_stop=self.fitted.stop_button,
            mains_v=self.bath.mains,
            has_bath=self.fitted.bath_probe,
            has_bowl=self.fitted.bowl_probe,
            has_stirrer=self.fitted.stirrer,
        )
