"""The systemd units of one machine: the guard, a run of a profile, pushes to a phone, the page.

Responsible for what stands in them; not for where they are written. Directives as in the manual
pages systemd.service(5), systemd.exec(5) and systemd-system.conf(5) of systemd 252.
"""

from dataclasses import dataclass, replace
from pathlib import Path

from controller.guard.settings import SYSTEM_RUN_DIR, SYSTEM_STATE_HOME

GUARD_UNIT = "bainward-guard.service"
RUN_UNIT = "bainward@.service"
NOTIFY_UNIT = "bainward-notify.service"
PAGE_UNIT = "bainward-page.service"
HARDWARE_WATCHDOG = Path("/etc/systemd/system.conf.d/bainward-watchdog.conf")
# A common single-board computer's timer ends at 15 s, so systemd must ask for less.
HARDWARE_WATCHDOG_S = 14

# Frozen or dead, the guard is ended and the heater's line driven off within 3 s: 2 s until the
# manager notices, the rest for the one-shot. Own engineering values, not published.
GUARD_WATCHDOG_S = 2
# Also how long the one-shot may take: on a slow or busy board it must be let to its end.
GUARD_STOP_S = 10
GUARD_AGAIN_S = 1
# A run that is stuck can't heat, for its lease ends; this only ends the process.
RUN_WATCHDOG_S = 10
RUN_STOP_S = 10
RUN_NICE = -10  # own engineering value
# Own engineering values: a name server or a service may keep it waiting for half a minute.
NOTIFY_WATCHDOG_S = 120
NOTIFY_STOP_S = 45
NOTIFY_AGAIN_S = 10
NOTIFY_NICE = 5
# The page's loop comes round twice a second; a busy board may keep it waiting.
PAGE_WATCHDOG_S = 60
PAGE_STOP_S = 10
PAGE_AGAIN_S = 10
PAGE_NICE = 5
_FREE_PORT = 1024  # ports below are for those who have a capability: capabilities(7)

_GUARD = """\
# Written by `bainward service`. The guard alone drives the heater.
#
# Behind this unit stands the board's own hardware watchdog, for when the kernel or systemd hangs.
# Put these two lines into {hardware_watchdog} :
#   [Manager]
#   RuntimeWatchdogSec={hardware_watchdog_s}
[Unit]
Description=bainward guard, which alone drives the heater
Documentation=man:systemd.service(5)
# It must come back, off and latched, however often it ended.
StartLimitIntervalSec=0
# A computer that sleeps keeps its lines as they are: the guard ends before, with heat off.
Conflicts=sleep.target
Before=sleep.target

[Service]
Type=notify
ExecStart={guard}
# Some kernels keep a line driven after its process died: whatever ended the guard, off.
ExecStopPost={off}
Restart=always
RestartSec={again_s}
WatchdogSec={watchdog_s}
# A frozen process heeds no other signal.
WatchdogSignal=SIGKILL
TimeoutAbortSec=1s
KillSignal=SIGTERM
TimeoutStopSec={stop_s}
# Neither short memory nor a busy processor may take the guard away.
OOMScoreAdjust=-1000
CPUSchedulingPolicy=fifo
CPUSchedulingPriority=20
LimitMEMLOCK=infinity
StateDirectory=bainward
RuntimeDirectory=bainward
# A folder made anew would no longer be the one that is hidden from the page.
RuntimeDirectoryPreserve=yes
Environment=XDG_STATE_HOME=/var/lib
RestrictAddressFamilies={families}
# Its real-time class is its own to take, so that stays allowed; a clock is nothing it reads.
ProtectClock=yes
ProcSubset=pid
MemoryDenyWriteExecute=yes
{guard_only}{common}
[Install]
WantedBy=multi-user.target
"""

_RUN = """\
# Written by `bainward service`. A person starts a run: systemctl start bainward@PROFILE
# No [Install] and no restart: nothing but a person may bring heat.
# A tool that restarts services, after an upgrade say, gets exit code 5: for a while after a signal
# has ended a run, another begins only at a terminal or with --begin-again.
[Unit]
Description=bainward run of the profile %i
Documentation=man:systemd.service(5)
# Not Requires=: with it, the guard's own restart would start a run again that nobody asked for.
Wants={guard_unit}
After={guard_unit}

[Service]
Type=notify
ExecStart={run}
WorkingDirectory={folder}
Restart=no
WatchdogSec={watchdog_s}
# A frozen process heeds no other signal.
WatchdogSignal=SIGKILL
TimeoutAbortSec=1s
KillSignal=SIGTERM
TimeoutStopSec={stop_s}
# Ticks come on time on a busy board, too; the guard stands above.
Nice={nice}
StateDirectory=bainward
Environment=XDG_STATE_HOME=/var/lib
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
RestrictRealtime=yes
MemoryDenyWriteExecute=yes
{run_only}{common}"""

_NOTIFY = """\
# Written by `bainward service --notify`. It listens over MQTT, and nothing needs it.
[Unit]
Description=bainward notify, which pushes alarms and questions to a phone
Documentation=man:systemd.service(5)
Wants=network-online.target
After=network-online.target
StartLimitIntervalSec=0

[Service]
Type=notify
ExecStart={notify}
Restart=on-failure
RestartSec={again_s}
# A wrong command line or push file is mended by a person alone.
RestartPreventExitStatus=2 6
WatchdogSec={watchdog_s}
TimeoutStopSec={stop_s}
Nice={nice}
StateDirectory=bainward
Environment=XDG_STATE_HOME=/var/lib
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
PrivateDevices=yes
ProtectKernelTunables=yes
ProtectClock=yes
RestrictRealtime=yes
{common}
[Install]
WantedBy=multi-user.target
"""

_PAGE = """\
# Written by `bainward service --page`. It talks MQTT and HTTP, and nothing needs it.
[Unit]
Description=bainward page, which shows the machine to browsers
Documentation=man:systemd.service(5)
Wants=network-online.target
# After the guard: a folder that is to be hidden must be there by then.
After=network-online.target {guard_unit}
StartLimitIntervalSec=0

[Service]
Type=notify
ExecStart={page}
Restart=on-failure
RestartSec={again_s}
# A wrong command line, machine file or password's file is mended by a person alone.
RestartPreventExitStatus=2 6 8
WatchdogSec={watchdog_s}
TimeoutStopSec={stop_s}
Nice={nice}
# Whoever gets the better of a server on the network finds neither records nor the guard's door.
# A folder that isn't there yet would not be hidden: the guard, if it comes later, makes it its own.
ExecStartPre=+mkdir -p -m 755 {folders}
InaccessiblePaths={hidden}
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
SocketBindDeny=any
SocketBindAllow=tcp:{port}
PrivateDevices=yes
ProtectKernelTunables=yes
ProtectClock=yes
ProcSubset=pid
RestrictRealtime=yes
MemoryDenyWriteExecute=yes
{page_only}{common}
[Install]
WantedBy=multi-user.target
"""

# As far as `systemd-analyze security` rewards it and hardware stays in reach: lines and ports by a
# list of devices, thermometers and PWM as files under /sys. Left out: PrivateUsers=, under which
# the groups that own devices are nobody's, and RootDirectory=.
_COMMON = """\
{user}NoNewPrivileges=yes
CapabilityBoundingSet={capabilities}
ProtectSystem=strict
ProtectHome={home}
{writable}PrivateTmp=yes
PrivateMounts=yes
DevicePolicy=closed
{devices}ProtectProc=invisible
ProtectKernelModules=yes
ProtectKernelLogs=yes
ProtectControlGroups=yes
ProtectHostname=yes
RestrictNamespaces=yes
RestrictSUIDSGID=yes
RemoveIPC=yes
LockPersonality=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service{calls}
SystemCallErrorNumber=EPERM
UMask=0027
"""
# A run asks whether the clock is held to a time server, which it has no capability to set:
# adjtimex(2) under the names that C libraries give the call.
_RUN_CALLS = " adjtimex clock_adjtime clock_adjtime64"
# Root owns devices and state anyway; all that it keeps is to read a file in somebody's home.
_ROOTS_CAPABILITY = "CAP_DAC_OVERRIDE"
_HOMES = ("/home", "/root", "/run/user")


@dataclass(frozen=True, slots=True, kw_only=True)
class PagePlan:
    """Where the page is served, and with what; paths are absolute."""

    listen: str  # ADDRESS:PORT
    password: Path | None = None
    certificate: Path | None = None
    key: Path | None = None

    @property
    def port(self) -> int:
        """Where it listens."""
        return int(self.listen.rpartition(":")[2])

    @property
    def files(self) -> dict[str, Path]:
        """Its files, by the option that names them."""
        named = (
            ("--password", self.password),
            ("--certificate", self.certificate),
            ("--key", self.key),
        )
        return {option: path for option, path in named if path is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """What the units are made from; every path is absolute."""

    command: Path  # the installed `bainward`
    machine_file: Path
    writable: tuple[Path, ...] = ()  # folders that both need to write, besides their own
    reads: tuple[Path, ...] = ()  # folders that both need to read besides
    user: str | None = None  # whom both run as; None: root
    guard_by_network: bool = False  # whether the guard's board is reached over TCP
    guard_devices: tuple[str, ...] = ()  # classes of devices, as /proc/devices has them
    run_devices: tuple[str, ...] = ()
    guard_writes_sys: bool = False  # whether a line is a file under /sys
    run_writes_sys: bool = False  # whether the stirrer is driven by PWM
    push_file: Path | None = None  # None: nobody is pushed
    page: PagePlan | None = None  # None: no page is served
    private: tuple[Path, ...] = ()  # folders of guard and runs that a page has no business in


def units(service: Service) -> dict[str, str]:
    """The text of each unit by its file name."""
    command, machine = _quoted(service.command), _quoted(service.machine_file)
    guard = _GUARD.format(
        guard=f"{command} guard --machine {machine}",
        off=f"{command} guard --off --machine {machine}",
        watchdog_s=GUARD_WATCHDOG_S,
        stop_s=GUARD_STOP_S,
        again_s=GUARD_AGAIN_S,
        hardware_watchdog=HARDWARE_WATCHDOG,
        hardware_watchdog_s=HARDWARE_WATCHDOG_S,
        families="AF_UNIX AF_INET AF_INET6" if service.guard_by_network else "AF_UNIX",
        guard_only=_closed(by_network=service.guard_by_network, sys=service.guard_writes_sys),
        common=_common(service, service.guard_devices, ""),
    )
    run = _RUN.format(
        run=f"{command} run --machine {machine} %i",
        folder=_escaped(service.machine_file.parent),
        nice=RUN_NICE,
        guard_unit=GUARD_UNIT,
        watchdog_s=RUN_WATCHDOG_S,
        stop_s=RUN_STOP_S,
        run_only=_closed(by_network=True, sys=service.run_writes_sys),
        common=_common(service, service.run_devices, _RUN_CALLS),
    )
    made = {GUARD_UNIT: guard, RUN_UNIT: run}
    if service.push_file is not None:
        made[NOTIFY_UNIT] = _notify(service)
    if service.page is not None:
        made[PAGE_UNIT] = _page(service, service.page)
    return made


def _notify(service: Service) -> str:
    command, file = _quoted(service.command), _quoted(service.push_file or Path())
    return _NOTIFY.format(
        notify=f"{command} notify {file}",
        again_s=NOTIFY_AGAIN_S,
        watchdog_s=NOTIFY_WATCHDOG_S,
        stop_s=NOTIFY_STOP_S,
        nice=NOTIFY_NICE,
        common=_common(replace(service, writable=()), (), ""),
    )


def _page(service: Service, plan: PagePlan) -> str:
    words = [_quoted(service.command), "page --machine", _quoted(service.machine_file)]
    words += ["--listen", plan.listen]
    for option, path in plan.files.items():
        words += [option, _quoted(path)]
    needs_port = plan.port < _FREE_PORT
    lent = "AmbientCapabilities=CAP_NET_BIND_SERVICE\n" if needs_port and service.user else ""
    # With its user alone in a world of its own it owns nothing of others; not for root's files.
    alone = "PrivateUsers=yes\n" if service.user and not needs_port else ""
    return _PAGE.format(
        page=" ".join(words),
        guard_unit=GUARD_UNIT,
        folders=f"{SYSTEM_RUN_DIR} {SYSTEM_STATE_HOME / SYSTEM_RUN_DIR.name}",
        again_s=PAGE_AGAIN_S,
        watchdog_s=PAGE_WATCHDOG_S,
        stop_s=PAGE_STOP_S,
        nice=PAGE_NICE,
        hidden=_listed(_hidden(service.private, plan)),
        port=plan.port,
        page_only=lent + alone,
        common=_common(
            replace(service, writable=()),
            (),
            "",
            more="CAP_NET_BIND_SERVICE" if needs_port else "",
        ),
    )


def _hidden(folders: tuple[Path, ...], plan: PagePlan) -> tuple[Path, ...]:
    """Those of the folders that hold no file of its own."""
    return tuple(
        folder
        for folder in folders
        if not any(file.is_relative_to(folder) for file in plan.files.values())
    )


def watchdog_drop_in() -> str:
    """What makes systemd feed the board's hardware watchdog."""
    return f"[Manager]\nRuntimeWatchdogSec={HARDWARE_WATCHDOG_S}\n"


def _common(service: Service, devices: tuple[str, ...], calls: str, *, more: str = "") -> str:
    """What all units have, each with the devices of its own; `more` is a capability."""
    capabilities = ("" if service.user else _ROOTS_CAPABILITY, more)
    return _COMMON.format(
        user=_user(service.user),
        capabilities=" ".join(filter(None, capabilities)),
        home="read-only" if _is_at_home(service) else "yes",
        writable=_writable(service.writable),
        devices="".join(f"DeviceAllow={name} rw\n" for name in devices),
        calls=calls,
    )


def _closed(*, by_network: bool, sys: bool) -> str:
    """What is closed to a unit that needs neither network nor to write below /sys."""
    network = "" if by_network else "PrivateNetwork=yes\nIPAddressDeny=any\n"
    return network + ("" if sys else "ProtectKernelTunables=yes\n")


def _is_at_home(service: Service) -> bool:
    """Whether something of it lies in somebody's home."""
    places = [service.command, service.machine_file, *service.reads, *service.writable]
    places += [] if service.push_file is None else [service.push_file]
    places += [] if service.page is None else service.page.files.values()
    return any(place.is_relative_to(home) for place in places for home in _HOMES)


def _user(name: str | None) -> str:
    return "" if name is None else f"User={name}\n"


def _writable(folders: tuple[Path, ...]) -> str:
    return f"ReadWritePaths={_listed(folders)}\n" if folders else ""


def _listed(folders: tuple[Path, ...]) -> str:
    # With the dash a folder that is not there yet is no reason to refuse to start.
    return " ".join(f'"-{_inner(folder)}"' for folder in folders)


def _quoted(path: Path) -> str:
    """One word of a command line, after "Command lines" in systemd.service(5)."""
    return f'"{_inner(path).replace("$", "$$")}"'


def _inner(path: Path) -> str:
    """A path inside double quotes."""
    return _escaped(path).replace("\\", "\\\\").replace('"', '\\"')


def _escaped(path: Path) -> str:
    """A path in which no sign is taken for a specifier."""
    return str(path).replace("%", "%%")
