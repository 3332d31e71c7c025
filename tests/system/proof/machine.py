"""One emulated machine: its console line by line, its disk, its plug."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import random
import re
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from proof.disk import Pulled, VolatileDisk

ANSI = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\x1bc")
#: No page-table isolation: it only costs time where the processor is emulated. The kernel measures
#: the processor's own counter wrongly where the host is busy, up to 1.5-fold, so time comes from a
#: timer of the board.
KERNEL = (
    "root=/dev/vda rw console=ttyS0 quiet loglevel=3 mitigations=off clocksource=hpet "
    "systemd.show_status=false"
)
#: So is a board without a clock chip: no /dev/rtc0, and a date that is long past.
NO_CLOCK_CHIP = "initcall_blacklist=cmos_init"
LONG_PAST = "2025-01-01T00:00:00"


class ProofError(RuntimeError):
    """The proof failed or could not be made."""


@dataclass(frozen=True, slots=True)
class Power:
    """How the machine is switched on.

    ``mode`` is what the guest shall do, ``speed`` how fast the station's time runs. ``chip`` is
    whether it has a clock chip, ``words`` are more words for the kernel.
    """

    mode: str
    speed: float = 1.0
    chip: bool = True
    words: tuple[str, ...] = ()


class Machine:
    """One life of the machine."""

    def __init__(self, work: Path, power: Power, log: Path) -> None:
        words = [
            KERNEL, f"wetside.proof={power.mode}", f"systemd.setenv=WETSIDE_SPEED={power.speed:g}",
            *power.words,
        ]  # fmt: skip
        if not power.chip:
            words.append(NO_CLOCK_CHIP)
        place = work / "disk.socket"
        self._work = work
        self._disk = VolatileDisk(work / "disk.img", place)
        command = [
            "qemu-system-x86_64", "-accel", "tcg,thread=multi", "-cpu", "Nehalem", "-m", "768",
            "-smp", "2", "-nographic", "-no-reboot", "-nic", "none", "-monitor", "none",
            "-rtc", "base=utc" if power.chip else f"base={LONG_PAST}",
            "-kernel", str(work / "vmlinuz"), "-initrd", str(work / "initrd.img"),
            "-append", " ".join(words), "-serial", "stdio",
            "-qmp", f"unix:{work / 'qmp.socket'},server=on,wait=off",
            # a write is answered at once and is safe after a flush, as with most disks
            "-drive", f"file=nbd:unix:{place},format=raw,if=virtio,cache=writeback",
        ]  # fmt: skip
        self.process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        )
        self.begun = time.monotonic()
        self._log = log.open("a", encoding="utf-8")
        self._lines: queue.Queue[tuple[float, str] | None] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for raw in self.process.stdout:
            line = ANSI.sub("", raw.decode("utf-8", "replace")).strip("\r\n")
            with contextlib.suppress(ValueError):  # the log is closed: the plug was pulled
                self._log.write(line + "\n")
                self._log.flush()
            self._lines.put((time.monotonic(), line))
        self._lines.put(None)

    def lines(self, until: float) -> Iterator[tuple[float, str | None]]:
        """Give console lines, each with the moment of its arrival, until that moment.

        Each tenth of a second without a line gives None as the line. Ends when the machine does.
        """
        while (left := until - time.monotonic()) > 0:
            try:
                found = self._lines.get(timeout=min(left, 0.1))
            except queue.Empty:
                yield time.monotonic(), None
                continue
            if found is None:
                return
            yield found

    def throttle(self, operations: int, size: int) -> None:
        """Let the disk do so many operations and bytes a second; 0 = as fast as it can."""
        limits = dict.fromkeys(("bps_rd", "bps_wr", "iops_rd", "iops_wr"), 0)
        wanted = {"device": "virtio0", "bps": size, "iops": operations, **limits}
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as line:
            line.connect(str(self._work / "qmp.socket"))
            answers = line.makefile("r", encoding="utf-8")
            answers.readline()  # who it is
            for command in (
                {"execute": "qmp_capabilities"},
                {"execute": "block_set_io_throttle", "arguments": wanted},
            ):
                line.sendall(json.dumps(command).encode() + b"\n")
                answer = json.loads(answers.readline())
                if "return" not in answer:
                    raise ProofError(f"the disk cannot be slowed down: {answer}")

    def cpu_seconds(self) -> float:
        """Seconds that processors of the host have worked for it."""
        text = Path(f"/proc/{self.process.pid}/stat").read_text(encoding="ascii")
        user, system = text.rpartition(")")[2].split()[11:13]
        return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")

    def await_unsaved(self, seconds: float) -> None:
        """Return when the disk holds something that was not flushed, or after so long."""
        end = time.monotonic() + seconds
        while not self._disk.unsaved and time.monotonic() < end:
            time.sleep(0.001)

    def pull_the_plug(self, rng: random.Random) -> Pulled:
        """Kill the machine, and lose what its disk had not been told to keep."""
        self._kill()
        return self._disk.pull(rng)

    def switch_off(self) -> None:
        """End the machine; its disk keeps all that it was given."""
        self._kill()
        self._disk.close()

    def _kill(self) -> None:
        self.process.kill()
        self.process.wait()
        self._log.close()


def once(work: Path, power: Power, seconds: float) -> str:
    """Boot, let the guest do one thing and power itself off; give its console.

    Raises
    ------
    ProofError
        It was not done in so many seconds.
    """
    log = work / f"{power.mode}.log"
    log.unlink(missing_ok=True)
    guest = Machine(work, power, log)
    try:
        end = guest.begun + seconds
        done = any((line or "").startswith("PROOF done") for _, line in guest.lines(end))
        for _ in guest.lines(time.monotonic() + 60):
            pass
        took = time.monotonic() - guest.begun
    finally:
        guest.switch_off()
    if not done:
        raise ProofError(f"the guest did not finish '{power.mode}' in {seconds} s: see {log}")
    print(f"{power.mode}: {took:.0f} s, console in {log}")
    return log.read_text(encoding="utf-8")
