"""Install wetside on a booted Debian, take a roll through, and pull the plug many times.

``python tests/system/boot.py --work DIR PART``, where PART is

image
    make a disk (debootstrap) with a bundle on it;
install
    boot it, run the README's command twice, show the transcript;
run
    boot it, take a roll through with the simulated sink, ask the desk, make a backup;
faults
    boot it, hurt the running service (kill, hang, full disk, clock jumps), a line for each;
cuts
    boot it, kill the machine in mid-run, again and again (``-n 50``), and judge what is left.

The machine is QEMU without hardware help, so a boot takes half a minute. Needs root, debootstrap,
qemu-system-x86 and about 5 GB. A killed machine loses what its kernel had not yet written out; what
the kernel was told is safe stays. A card that lies about that is not simulated.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import queue
import random
import re
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

PROJECT = Path(__file__).parents[2]
GUEST = Path(__file__).with_name("guest")
PACKAGES = (
    "systemd,systemd-sysv,udev,dbus,kmod,python3,python3-venv,procps,iproute2,"
    "linux-image-amd64,initramfs-tools"
)
ANSI = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


class ProofError(RuntimeError):
    """The proof failed or could not be made."""


def sh(*words: str | Path) -> None:
    """Run a command that must succeed."""
    subprocess.run(list(map(str, words)), check=True)


# ------------------------------------------------------------------------------------ the disk
def make_image(work: Path, megabytes: int) -> None:
    """Make a root folder, prepare it, and turn it into a disk with kernel and initrd beside it."""
    base, root = work / "base", work / "root"
    if not (base / "etc" / "debian_version").exists():
        sh("debootstrap", "--variant=minbase", f"--include={PACKAGES}", "bookworm", base)
    shutil.rmtree(root, ignore_errors=True)
    sh("cp", "-a", base, root)
    modules = root / "etc/initramfs-tools/modules"
    modules.write_text("virtio_pci\nvirtio_blk\next4\n", encoding="ascii")
    prepare(root, work)
    sh("chroot", root, "update-initramfs", "-u")
    for name in ("vmlinuz", "initrd.img"):
        found = max((root / "boot").glob(f"{name}-*"))
        shutil.copyfile(found, work / name)
    disk = work / "disk.img"
    disk.unlink(missing_ok=True)
    sh("truncate", "-s", f"{megabytes}M", disk)
    sh("mke2fs", "-q", "-t", "ext4", "-d", root, disk)


def prepare(root: Path, work: Path) -> None:
    """Lay the guest's scripts, the simulated parts' settings and the bundle into the root."""
    (root / "proof").mkdir(exist_ok=True)
    for file in [*GUEST.glob("*.py"), *GUEST.glob("*.sh")]:
        shutil.copy(file, root / "proof" / file.name)
        (root / "proof" / file.name).chmod(0o755)
    system = root / "etc/systemd/system"
    dropin = system / "wetside-station.service.d"
    sheets = root / "etc/wetside/sheets"
    wants = system / "multi-user.target.wants"
    for folder in (dropin, sheets, wants, root / "var/log/journal"):
        folder.mkdir(parents=True, exist_ok=True)
    for unit in ("proof.service", "proof-sink.service"):
        shutil.copy(GUEST / unit, system / unit)
    shutil.copy(GUEST / "parts.conf", dropin / "parts.conf")
    shutil.copy(GUEST / "station.toml", root / "etc/wetside/station.toml")
    shutil.copy(GUEST / "brief.toml", sheets / "0-brief.toml")
    shutil.copy(GUEST / "tmpfiles.conf", root / "etc/tmpfiles.d/proof.conf")
    link(wants / "proof.service", "../proof.service")
    for getty in ("console-getty", "serial-getty@ttyS0", "getty@tty1"):
        link(system / f"{getty}.service", "/dev/null")  # a login prompt would cut our console off
    (root / "etc/hostname").write_text("wetside-proof\n", encoding="ascii")
    made = subprocess.run(
        ["bash", PROJECT / "systemd/bundle.sh", work, "3.11", "x86_64"],
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    sh("tar", "-C", root / "root", "-xf", made.stdout.strip().splitlines()[-1])


def link(path: Path, target: str) -> None:
    """Make a symbolic link, also where one is."""
    path.unlink(missing_ok=True)
    path.symlink_to(target)


# ------------------------------------------------------------------------------------ the machine
class Machine:
    """One life of the machine; its console comes line by line."""

    def __init__(self, work: Path, mode: str, log: Path) -> None:
        append = (
            "root=/dev/vda rw console=ttyS0 quiet systemd.show_status=false loglevel=3 "
            f"wetside.proof={mode}"
        )
        command = [
            "qemu-system-x86_64", "-accel", "tcg,thread=multi", "-cpu", "max", "-m", "768",
            "-smp", "2", "-nographic", "-no-reboot", "-nic", "none", "-monitor", "none",
            "-kernel", str(work / "vmlinuz"), "-initrd", str(work / "initrd.img"),
            "-append", append, "-serial", "stdio",
            "-drive", f"file={work / 'disk.img'},format=raw,if=virtio",
        ]  # fmt: skip
        self.process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        )
        self.begun = time.monotonic()
        self._log = log.open("a", encoding="utf-8")
        self._lines: queue.Queue[str | None] = queue.Queue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for raw in self.process.stdout:
            line = ANSI.sub("", raw.decode("utf-8", "replace")).strip("\r\n")
            self._log.write(line + "\n")
            self._log.flush()
            self._lines.put(line)
        self._lines.put(None)

    def lines(self, seconds: float) -> Iterator[str]:
        """Give console lines until the machine ends or so many seconds have passed."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            try:
                line = self._lines.get(timeout=left)
            except queue.Empty:
                return
            if line is None:
                return
            yield line

    def kill(self) -> None:
        """Pull the plug."""
        self.process.kill()
        self.process.wait()
        self._log.close()


@contextlib.contextmanager
def machine(work: Path, mode: str, log: Path) -> Iterator[Machine]:
    """Boot for one life; whatever happens, the machine is off afterwards."""
    one = Machine(work, mode, log)
    try:
        yield one
    finally:
        one.kill()


def once(work: Path, mode: str, seconds: float) -> str:
    """Boot, let the guest do one thing and power itself off; give its console."""
    log = work / f"{mode}.log"
    log.unlink(missing_ok=True)
    with machine(work, mode, log) as guest:
        done = any(line.startswith("PROOF done") for line in guest.lines(seconds))
        for _ in guest.lines(60):
            pass
        took = time.monotonic() - guest.begun
    if not done:
        raise ProofError(f"the guest did not finish '{mode}' in {seconds} s: see {log}")
    print(f"{mode}: {took:.0f} s, console in {log}")
    return log.read_text(encoding="utf-8")


# ------------------------------------------------------------------------------------ the plug
@dataclass(frozen=True, slots=True)
class Life:
    """One life between two plugs: what was found at its start, what was promised before its end."""

    number: int
    boot_seconds: float
    found_events: int
    found_last: int
    batches: int
    power_lost: int
    gap: str | None
    promised: int
    run_open: bool
    cut_after_seconds: float


def one_life(work: Path, number: int, rng: random.Random, before: Life | None) -> Life:
    """Boot, check what the last life left, wait for a run to be on, kill at a random moment.

    Raises
    ------
    ProofError
        The journal is damaged, or an event is missing that had been readable.
    """
    found: dict[str, object] | None = None
    promised, run_open, ready, acks = 0, False, 0.0, 0
    limit = rng.uniform(1.0, 25.0)
    with machine(work, "cuts", work / "cuts.log") as guest:
        booted = None
        for line in guest.lines(240.0):
            if line.startswith("CHECK "):
                found = json.loads(line[6:])
                booted = time.monotonic() - guest.begun
                judge(found, before)
            elif match := re.fullmatch(r"ACK (\d+) (\d+)", line):
                promised, run_open = int(match[1]), match[2] != "0"
                acks += 1
                # the first line only repeats what was there; then life goes on for a while
                if acks > 1 and not ready:
                    ready = time.monotonic()
            if ready and time.monotonic() > ready + limit:
                break
        else:
            if not ready:
                raise ProofError(
                    f"life {number}: the station wrote nothing; see {work / 'cuts.log'}"
                )
        alive = time.monotonic() - guest.begun
        guest.kill()
        for line in guest.lines(1.0):  # promises that were still on their way to us
            if match := re.fullmatch(r"ACK (\d+) (\d+)", line):
                promised, run_open = int(match[1]), match[2] != "0"
    assert found is not None
    events = found.get("events") or [0, 0]
    assert isinstance(events, list)
    return Life(
        number, round(booted or 0.0, 1), events[0], events[1], int(str(found.get("batches", 0))),
        int(str(found.get("power_lost", 0))), str(found["gap"]) if "gap" in found else None,
        promised, run_open, round(alive, 1),
    )  # fmt: skip


def judge(found: dict[str, object], before: Life | None) -> None:
    """Compare what is there after a cut with what was promised before it.

    Raises
    ------
    ProofError
        Damage, a lost event, a hole in the numbers, or a journal that was set aside.
    """
    if not found:
        if before is not None and before.promised:
            raise ProofError(f"the journal is gone; {before.promised} was promised")
        return
    if found["integrity"] != "ok" or found["foreign"] != 0:
        raise ProofError(f"damaged: {found}")
    if found["set_aside"] != 0:
        raise ProofError(f"a journal was set aside: {found}")
    events = found["events"]
    assert isinstance(events, list)
    if before is not None and events[1] < before.promised:
        raise ProofError(
            f"event {before.promised} was readable before the cut; last is {events[1]}"
        )
    if before is not None and before.run_open and int(str(found["started"])) < before.number:
        raise ProofError(f"a start is missing: {found}")


def cuts(work: Path, count: int, seed: int) -> None:
    """Pull the plug so many times; print a line for each life, then the sums."""
    rng = random.Random(seed)
    results = work / "cuts.jsonl"
    results.unlink(missing_ok=True)
    (work / "cuts.log").unlink(missing_ok=True)
    lives: list[Life] = []
    for number in range(1, count + 2):  # one life more, to check what the last cut left
        life = one_life(work, number, rng, lives[-1] if lives else None)
        lives.append(life)
        with results.open("a", encoding="utf-8") as file:
            file.write(json.dumps(asdict(life)) + "\n")
        print(
            f"{number:3d} booted {life.boot_seconds:5.1f} s, found {life.found_last:5d}, "
            f"promised {life.promised:5d}, run {'open' if life.run_open else 'none'}, "
            f"gap {life.gap}",
            flush=True,
        )
    cut = lives[:-1]
    kept = sum(later.found_last - life.promised for life, later in zip(cut, lives[1:], strict=True))
    print(f"{len(cut)} cuts, {sum(life.run_open for life in cut)} in an open run")
    print(f"damaged 0, promised events lost 0, events found beyond the promised {kept}")
    print(f"gaps told to the user: {lives[-1].power_lost}")


def main() -> int:
    """Do one part of the proof."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--work", type=Path, required=True)
    parser.add_argument("part", choices=("image", "install", "run", "faults", "cuts"))
    parser.add_argument("-n", type=int, default=50, help="how many cuts")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--megabytes", type=int, default=3000)
    chosen = parser.parse_args()
    if os.geteuid() != 0:
        parser.error("run it as root: debootstrap and chroot need it")
    chosen.work.mkdir(parents=True, exist_ok=True)
    try:
        if chosen.part == "image":
            make_image(chosen.work, chosen.megabytes)
        elif chosen.part == "install":
            print(once(chosen.work, "install", 900.0))
        elif chosen.part == "run":
            print(once(chosen.work, "run", 900.0))
        elif chosen.part == "faults":
            text = once(chosen.work, "faults", 1800.0)
            found = [line for line in text.splitlines() if line.startswith("FAULT ")]
            print("\n".join(found))
            return 0 if found and not any(line.split()[2] == "bad" for line in found) else 1
        else:
            cuts(chosen.work, chosen.n, chosen.seed)
    except (ProofError, subprocess.CalledProcessError, OSError) as error:
        print(f"failed: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
