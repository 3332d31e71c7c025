"""Pulling the plug again and again, and judging what is left."""

from __future__ import annotations

import json
import random
import statistics
import subprocess
import time
from dataclasses import asdict
from pathlib import Path

from proof.honesty import Boots, Gap
from proof.lives import SPEED, Found, Life, Moment, Plan, Promise, summary, told
from proof.machine import Machine, Power, ProofError

LONGEST_BOOT = 420.0
LONGEST_LIFE = 25.0
#: Units of the system that a life does not need, and that take a fifth of an emulated start.
NOT_OURS = ("dbus.service", "systemd-timesyncd.service", "systemd-udev-trigger.service")


def draw(rng: random.Random, number: int) -> Plan:
    """Draw the next life; the first two are whole."""
    moment = rng.choices(list(Moment), (30, 30, 30, 10))[0]
    if moment is Moment.STARTING and number <= 2:
        moment = Moment.ANY
    seconds = {
        Moment.ANY: rng.uniform(0.2, LONGEST_LIFE),
        Moment.CHANGE: rng.uniform(0.0, 1.0),
        Moment.WRITING: rng.uniform(0.2, LONGEST_LIFE),
        Moment.STARTING: rng.uniform(0.4, 1.3),
    }[moment]
    return Plan(moment, seconds, rng.randint(1, 3), rng.random() < 0.7, rng.random() < 0.2)


def judge(found: Found, promise: Promise) -> None:
    """Compare what is there after a cut with what was promised before it.

    Raises
    ------
    ProofError
        Damage, a lost or changed event, a lost batch, a journal that was set aside, or a run that
        was open and was not taken up.
    """
    if not found:
        if promise.kept[0]:
            raise ProofError(f"the journal is gone; {promise.kept} was promised")
        return
    if found["integrity"] != "ok" or found["foreign"] != 0:
        raise ProofError(f"damaged: {found}")
    if found["set_aside"] != 0:
        raise ProofError(f"a journal was set aside: {found}")
    if promise.kept[0] and tuple(found["kept"]) != promise.kept:
        raise ProofError(f"promised {promise.kept}, found {found['kept']}")
    if tuple(found["kept_batches"]) != promise.batches:
        raise ProofError(f"batches promised {promise.batches}, found {found['kept_batches']}")
    was_open = promise.runs[0] > promise.runs[1]
    if was_open and found["gap"] is None and found["runs"][1] == promise.runs[1]:
        raise ProofError(f"a run was open and is not taken up: {found}")


class Proof:
    """Many lives of one machine."""

    def __init__(self, work: Path, seed: int) -> None:
        self.lives: list[Life] = []
        self.promise = Promise()
        self._work = work
        self._seed = seed
        self._boots = Boots(SPEED)

    def live(self, number: int) -> Life:
        """Boot, check what the last life left, let it go on, pull the plug at a drawn moment.

        Raises
        ------
        ProofError
            As `judge` says, or the station was never heard, or its gap is not honest.
        """
        rng = random.Random(f"{self._seed} {number}")
        plan = draw(rng, number)
        starts = [life.start_seconds for life in self.lives if life.start_seconds is not None]
        words = [
            f"wetside.promised={self.promise.kept[1]}",
            f"wetside.batches={self.promise.batches[1]}",
            "systemd.wants=proof-sink.service",
        ]
        words += [f"systemd.mask={unit}" for unit in NOT_OURS]
        if not plan.desk:
            words.append("systemd.mask=wetside-desk.service")
        power = Power("cuts", SPEED, plan.chip, tuple(words))
        guest = Machine(self._work, power, self._work / "cuts.log")
        watch = _Watch(self, plan)
        if plan.moment is Moment.STARTING:
            watch.cut_at = guest.begun + plan.seconds * statistics.median(starts)
        try:
            for at, line in guest.lines(guest.begun + LONGEST_BOOT):
                if line is not None:
                    watch.see(at, line)
                if watch.heard_cpu is None and watch.heard_at is not None:
                    watch.heard_cpu = guest.cpu_seconds()
                if watch.cut_at is not None and at >= watch.cut_at:
                    break
            if plan.moment is Moment.WRITING:
                guest.await_unsaved(10.0)
            alive = time.monotonic() - guest.begun
        finally:
            pulled = guest.pull_the_plug(rng)
        for at, line in guest.lines(time.monotonic() + 1.0):
            if line is not None:
                watch.see(at, line)  # promises that were still on their way to us
        if watch.cut_at is None:
            raise ProofError(f"life {number}: the station was not heard; see the console's log")
        start = None if watch.heard_at is None else round(watch.heard_at - guest.begun, 1)
        return Life(
            number, plan, start, watch.found, watch.gap, self.promise, watch.state, watch.kind,
            round(alive, 1), pulled, watch.heard_cpu,
        )  # fmt: skip

    def heard(self, found: Found, plan: Plan, at: float) -> Gap | None:
        """Judge what a start found; give what it says about the time without power."""
        judge(found, self.promise)
        gap = found.get("gap")
        if gap is None:
            return None
        self._boots.seen(gap["boot"], plan.chip, at, found["uptime"])
        return self._boots.judge(gap)

    def promised(self, said: Found, plan: Plan, at: float) -> None:
        """Note what can be read now."""
        self._boots.seen(said["boot"], plan.chip, at, said["uptime"])
        self.promise = Promise(tuple(said["kept"]), tuple(said["batches"]), tuple(said["runs"]))


class _Watch:
    """Follows the console of one life."""

    def __init__(self, proof: Proof, plan: Plan) -> None:
        self.cut_at: float | None = None
        self.heard_at: float | None = None
        self.heard_cpu: float | None = None
        self.found: Found | None = None
        self.gap: Gap | None = None
        self.state, self.kind = "starting", ""
        self._proof = proof
        self._plan = plan
        self._changes = 0

    def see(self, at: float, line: str) -> None:
        """Take in a line that is whole; the last one may be cut in two."""
        word, _, rest = line.partition(" ")
        if word not in {"CHECK", "ACK"}:
            return
        try:
            said: Found = json.loads(rest)
        except ValueError:
            return
        if word == "CHECK":
            self.found = said
            self.heard_at = at
            self.gap = self._proof.heard(said, self._plan, at)
            return
        self._proof.promised(said, self._plan, at)
        changed, self.state = said["state"] != self.state, said["state"]
        self.kind = said["kind"]
        if self._plan.moment is Moment.STARTING:
            return
        on = said["runs"][0] > said["runs"][1] and not self.state.startswith("interrupted")
        if self.cut_at is None and on:
            of_change = self._plan.moment is Moment.CHANGE
            self.cut_at = at + (LONGEST_LIFE if of_change else self._plan.seconds)
        elif self.cut_at is not None and changed and self._plan.moment is Moment.CHANGE:
            self._changes += 1
            if self._changes == self._plan.changes:
                self.cut_at = at + self._plan.seconds


def cuts(work: Path, count: int, seed: int, until: str | None, *, go_on: bool) -> None:
    """Pull the plug so many times; print a line for each life, then the sums.

    ``go_on``: count the lives of an earlier call that ended early as well.

    Raises
    ------
    ProofError
        Something was lost, damaged or dishonest.
    """
    written = work / "cuts.jsonl"
    proof = Proof(work, seed)
    if go_on:
        lines = written.read_text(encoding="utf-8").splitlines()
        proof.lives = [Life.of(json.loads(line)) for line in lines]
        proof.promise = proof.lives[-1].promise
    else:
        for path in (written, work / "cuts.log"):
            path.unlink(missing_ok=True)
    for number in range(len(proof.lives) + 1, count + 1):
        if until is not None and time.strftime("%H:%M") >= until:
            break
        life = proof.live(number)
        proof.lives.append(life)
        with written.open("a", encoding="utf-8") as file:
            file.write(json.dumps(asdict(life)) + "\n")
        print(told(life), flush=True)
    last_look(work, proof)
    print(summary(proof.lives, seed))


def last_look(work: Path, proof: Proof) -> None:
    """Boot once more to judge what the last cut left, shut down, check the file system."""
    words = (
        f"wetside.promised={proof.promise.kept[1]}", f"wetside.batches={proof.promise.batches[1]}"
    )  # fmt: skip
    guest = Machine(work, Power("look", SPEED, words=words), work / "cuts.log")
    try:
        found = None
        for _, line in guest.lines(guest.begun + LONGEST_BOOT):
            if line is not None and line.startswith("CHECK "):
                found = json.loads(line[6:])
                judge(found, proof.promise)
        if found is None:
            raise ProofError("the last start was not heard")
    finally:
        guest.switch_off()
    print("last start:", json.dumps(found))
    subprocess.run(["e2fsck", "-f", "-n", str(work / "disk.img")], check=True)
