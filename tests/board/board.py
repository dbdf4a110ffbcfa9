"""A virtual board: a real kernel and systemd under QEMU, and a wire to the agent inside.

Responsible for building, starting, asking, resetting and cutting its power; not for what is tested.
The host's files are the board's lower layer, read-only, so it runs this very checkout; what it
writes lies in memory, except for one small disk at /var/lib/bainward, which outlives a power cut.
"""

import json
import lzma
import os
import shutil
import socket
import subprocess
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NoReturn

HERE = Path(__file__).parent
GUEST = HERE / "guest"
MODULES = {
    "9p": "",
    "9pnet_virtio": "",
    "configfs": "",
    "gpio-sim": "",
    "i2c-dev": "",
    "i2c-stub": "chip_addr=0x48,0x49,0x4a,0x4b",
    "lm75": "",
    "ti-ads1015": "",
    "overlay": "",
    "ext4": "",
    "virtio_blk": "",
    "virtio_net": "",
    "virtio_pci": "",
    "i6300esb": "",
}
TOOLS = "sh mount mkdir insmod cat echo cp ln rm ifconfig poweroff switch_root"
FOLDERS = "bin dev proc sys host layer root etc modules"
DISK_BYTES = 128 * 1024 * 1024  # of a file with holes; a run wants room for its record
MEMORY_MB = 768
BOOT_S = 240.0  # a slow host's patience; usual is about 30 s
ANSWER_S = 60.0
# A clock that goes by the instructions done, one each ns: what a board does in its own time is then
# the same on a quiet host and on a busy one, which only takes longer. QEMU, "Instruction counting".
OWN_TIME = ("-icount", "shift=0,sleep=on", "-rtc", "clock=vm")
HOST_SLOWER = 40.0  # so much longer a busy host may take then: only against one that hangs


class Kit:
    """What `.ci/board` brought: a kernel with its modules."""

    def __init__(self, folder: Path) -> None:
        """Read the order of modules."""
        version = (folder / "version").read_text(encoding="utf-8").strip()
        self._modules = folder / "lib" / "modules" / version
        self.kernel = self._modules / "vmlinuz"
        self._needs: dict[str, list[str]] = {}
        self._paths: dict[str, Path] = {}
        for line in (self._modules / "modules.dep").read_text(encoding="utf-8").splitlines():
            path, _, needs = line.partition(":")
            self._needs[plain(path)] = [plain(need) for need in needs.split()]
            self._paths[plain(path)] = self._modules / path

    def in_order(self, wanted: Mapping[str, str]) -> list[str]:
        """The wanted modules, each after what it needs; built-in ones are left out."""
        order: list[str] = []

        def add(name: str) -> None:
            for need in self._needs.get(name, ()):
                add(need)
            if name in self._paths and name not in order:
                order.append(name)

        for name in wanted:
            add(plain(name))
        return order

    def module(self, name: str) -> bytes:
        """The module itself."""
        data = self._paths[name].read_bytes()
        return lzma.decompress(data) if self._paths[name].suffix == ".xz" else data


def plain(path: str) -> str:
    """A module's name as the kernel says it."""
    return Path(path).name.partition(".")[0].replace("-", "_")


def build(kit: Kit, etc: Path, folder: Path) -> Path:
    """The initial RAM disk: busybox, modules, and `etc` to lie over the host's /etc."""
    root = folder / "initrd"
    for name in FOLDERS.split():
        (root / name).mkdir(parents=True)
    busybox = shutil.which("busybox")
    assert busybox is not None
    shutil.copy(busybox, root / "bin" / "busybox")
    for name in TOOLS.split():
        (root / "bin" / name).symlink_to("busybox")
    options = {plain(name): words for name, words in MODULES.items()}
    order = kit.in_order(MODULES)
    for name in order:
        (root / "modules" / f"{name}.ko").write_bytes(kit.module(name))
    lines = "".join(f"{name} {options.get(name, '')}\n" for name in order)
    (root / "modules" / "order").write_text(lines, encoding="utf-8")
    shutil.copytree(etc, root / "etc", dirs_exist_ok=True, symlinks=True)
    shutil.copy(GUEST / "init.sh", root / "init")
    (root / "init").chmod(0o755)
    names = "\0".join(sorted(str(path.relative_to(root)) for path in root.rglob("*")))
    image = folder / "initrd.cpio"
    with image.open("wb") as file:
        subprocess.run(
            [busybox, "cpio", "-o", "-0", "-H", "newc"],
            cwd=root,
            input=names.encode(),
            stdout=file,
            stderr=subprocess.DEVNULL,
            check=True,
        )
    return image


class Board:
    """One board with its disk; off until `power_on`."""

    def __init__(self, kit: Kit, etc: Path, folder: Path, *, own_time: bool = False) -> None:
        """Build it, its clock the host's or its own; nothing runs yet."""
        self._own_time = own_time
        self._kit = kit
        self._folder = folder
        self._image = build(kit, etc, folder)
        self._disk = folder / "disk"
        self._disk.touch()
        os.truncate(self._disk, DISK_BYTES)
        subprocess.run(["/sbin/mkfs.ext4", "-q", "-F", str(self._disk)], check=True)
        self._qemu: subprocess.Popen[bytes] | None = None
        self._wire: socket.socket | None = None
        self._events: socket.socket | None = None
        self._waiting = b""

    def power_on(self) -> float:
        """Boot, and wait for the agent; the board's uptime then, s."""
        near, far = socket.socketpair()
        events, monitor = socket.socketpair()
        with far, monitor, (self._folder / "qemu.log").open("ab") as log:
            self._qemu = subprocess.Popen(
                self._command(far.fileno(), monitor.fileno()),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=log,
                pass_fds=[far.fileno(), monitor.fileno()],
            )
        self._wire, self._waiting, self._events = near, b"", events
        # The monitor tells of events once it has been greeted: qemu-qmp-ref(7).
        events.sendall(b'{"execute": "qmp_capabilities"}\n')
        return self.hello()

    def hello(self) -> float:
        """Wait until the agent of a new boot says so; the board's uptime then, s."""
        return float(self._hear("hello", BOOT_S))

    def ask(self, hand: str, *words: object, limit_s: float = ANSWER_S, **named: object) -> Any:  # noqa: ANN401 - whatever that hand answers
        """Have the agent do something; its answer."""
        assert self._wire is not None
        self._wire.sendall(json.dumps([hand, words, named]).encode() + b"\n")
        return self._hear("answer", limit_s)

    def tell(self, hand: str, *words: object) -> None:
        """Have the agent do something that it does not live to answer."""
        assert self._wire is not None
        self._wire.sendall(json.dumps([hand, words, {}]).encode() + b"\n")

    def power_off(self) -> None:
        """Cut the power: what was not on the disk is gone."""
        if self._qemu is not None:
            self._qemu.kill()
            self._qemu.wait()
            self._qemu = None
        for end in (self._wire, self._events):
            if end is not None:
                end.close()
        self._wire = self._events = None

    def console(self) -> str:
        """What the kernel and systemd printed."""
        return (self._folder / "console").read_text(encoding="utf-8", errors="replace")

    def _hear(self, key: str, limit_s: float) -> Any:  # noqa: ANN401 - as it was said
        assert self._wire is not None
        self._wire.settimeout(limit_s * (HOST_SLOWER if self._own_time else 1.0))
        while b"\n" not in self._waiting:
            try:
                data = self._wire.recv(65536)
            except TimeoutError:
                give_up(f"The board said nothing for {limit_s:g} s.", self.console())
            if not data:
                give_up("The board went off.", self.console())
            self._waiting += data
        line, _, self._waiting = self._waiting.partition(b"\n")
        said = json.loads(line)
        if key not in said:
            give_up(f"The board said {said}, not {key}.", self.console())
        return said[key]

    def reset_at(self) -> float:
        """When the hardware watchdog reset the board, seconds of Unix time of the host."""
        assert self._events is not None
        self._events.settimeout(BOOT_S)
        with self._events.makefile("r", encoding="utf-8") as lines:
            said = next(said for said in map(json.loads, lines) if said.get("event") == "WATCHDOG")
        at = said["timestamp"]
        return float(at["seconds"]) + float(at["microseconds"]) * 1e-6

    def _command(self, wire: int, monitor: int) -> list[str]:
        """QEMU in software emulation, which needs no right of any kind."""
        kernel_words = (
            "console=ttyS0 rdinit=/init quiet panic=0 mitigations=off "
            "systemd.unit=board.target systemd.show_status=0 systemd.log_target=console"
        )
        return [
            *("qemu-system-x86_64", "-machine", "q35", "-accel", "tcg", "-cpu", "max"),
            *(OWN_TIME if self._own_time else ()),
            *(
                "-smp",
                "2",
                "-m",
                str(MEMORY_MB),
                "-nodefaults",
                "-no-user-config",
                "-display",
                "none",
            ),
            *("-kernel", str(self._kit.kernel), "-initrd", str(self._image)),
            *("-append", kernel_words),
            *("-chardev", f"file,id=console,path={self._folder / 'console'},append=on"),
            *("-serial", "chardev:console"),
            *("-chardev", f"socket,id=agent,fd={wire}", "-serial", "chardev:agent"),
            *("-chardev", f"socket,id=monitor,fd={monitor}"),
            *("-mon", "chardev=monitor,mode=control"),
            "-fsdev",
            "local,id=host,path=/,security_model=none,readonly=on,multidevs=remap",
            *("-device", "virtio-9p-pci,fsdev=host,mount_tag=host"),
            *("-drive", f"file={self._disk},if=virtio,format=raw,cache=writethrough"),
            *("-device", "i6300esb", "-action", "watchdog=reset"),
            # The host is at 10.0.2.2: QEMU's user mode networking, which needs no right either.
            *("-netdev", "user,id=net", "-device", "virtio-net-pci,netdev=net"),
        ]


def give_up(why: str, console: str) -> NoReturn:
    """End a test with the board's last words."""
    tail = "\n".join(console.splitlines()[-40:])
    raise AssertionError(f"{why} Its console ended with:\n{tail}")
