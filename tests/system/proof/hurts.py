"""Faults of the machine and of the running service; the guest does most of it (faults.sh)."""

from __future__ import annotations

import json
import subprocess
import time
from pathlib import Path

from proof.machine import Machine, Power, ProofError

#: Name of each start, and how the machine is switched on for it.
STARTS = {
    "faults": Power("faults", speed=4.0),
    "clock": Power("clock", speed=1.0, chip=False),
    "slow": Power("slow", speed=2.0),
    "readonly": Power("readonly", speed=4.0),
}
LONGEST = 1500.0


def hurt(work: Path, only: str | None) -> int:
    """Do all of it or one start; print a line for each fault; give the exit code.

    Raises
    ------
    ProofError
        A start did not come to its end, or the journal is damaged afterwards.
    """
    found: list[str] = []
    for name, power in STARTS.items():
        if only in {None, name}:
            found += one_start(work, power)
    print("\n".join(found))
    return 0 if found and not any(line.split()[2] == "bad" for line in found) else 1


def one_start(work: Path, power: Power) -> list[str]:
    """Switch on, do what the guest asks for, give its lines of faults."""
    log = work / f"{power.mode}.log"
    log.unlink(missing_ok=True)
    guest = Machine(work, power, log)
    found, kept, done = [], None, False
    try:
        for _, line in guest.lines(guest.begun + LONGEST):
            word, _, rest = (line or "").partition(" ")
            if word == "FAULT":
                print(line, flush=True)
                found.append(line or "")
            elif word == "ASK":
                _, operations, size = rest.split()
                guest.throttle(int(operations), int(size))
            elif word == "KEPT":
                kept = int(rest)
            elif word == "PROOF" and rest == "done":
                done = True
                break
        for _ in guest.lines(time.monotonic() + 45):
            pass  # shutting down; with a damaged file system it does not come to its end
    finally:
        guest.switch_off()
    if not done:
        raise ProofError(f"'{power.mode}' did not come to its end: see {log}")
    if kept is not None:
        found.append(after_damage(work, kept))
        print(found[-1], flush=True)
    return found


def after_damage(work: Path, kept: int) -> str:
    """Start anew after the file system was damaged, as the Pi would be after a repair."""
    check = subprocess.run(["e2fsck", "-p", str(work / "disk.img")], check=False)
    guest = Machine(work, Power("look", 4.0), work / "readonly.log")
    found = None
    try:
        for _, line in guest.lines(guest.begun + 300):
            if line is not None and line.startswith("CHECK "):
                found = json.loads(line[6:])
    finally:
        guest.switch_off()
    if found is None:
        raise ProofError("after the damage the station was not heard")
    good = found["integrity"] == "ok" and found["last"] > kept and found["set_aside"] == 0
    return (
        f"FAULT damaged-after {'ok' if good else 'bad'} repaired (e2fsck {check.returncode}) and "
        f"started: journal {found['integrity']}, events up to {kept} were there before the damage, "
        f"now {found['last']}; state {found['state']}, gap {found['gap'] and found['gap']['text']}"
    )
