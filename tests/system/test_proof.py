"""The proof's own parts: the disk that forgets, and the judge. The proof itself is boot.py."""

from __future__ import annotations

import random
import socket
import struct
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from proof import disk as disks
from proof.cuts import judge
from proof.disk import SECTOR, Pulled, VolatileDisk
from proof.honesty import Boots
from proof.lives import Found, Promise
from proof.machine import ProofError

WRITE, DISCONNECT, FLUSH = 1, 2, 3
NEW = b"n" * SECTOR


class Client:
    """Writes to the disk as QEMU does."""

    def __init__(self, place: Path) -> None:
        self._line = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._line.connect(str(place))
        assert self._line.recv(18, socket.MSG_WAITALL)[:8] == b"NBDMAGIC"
        # option 7, "go", for the export with an empty name
        self._line.sendall(struct.pack(">I8sIIIH", 3, b"IHAVEOPT", 7, 6, 0, 0))
        self._line.recv(20 + 12 + 20, socket.MSG_WAITALL)

    def ask(self, kind: int, at: int = 0, data: bytes = b"", flags: int = 0) -> None:
        """Ask for something and wait for the answer."""
        length = len(data)
        self._line.sendall(struct.pack(">IHHQQI", 0x25609513, flags, kind, 7, at, length) + data)
        assert self._line.recv(16, socket.MSG_WAITALL) == struct.pack(">IIQ", 0x67446698, 0, 7)

    def close(self) -> None:
        """Break off, as a killed QEMU does."""
        self._line.close()


Pull = Callable[[float, Callable[[Client], None]], Pulled]


@pytest.fixture
def image(tmp_path: Path) -> Path:
    """An image of 64 old sectors."""
    path = tmp_path / "image"
    path.write_bytes(b"o" * SECTOR * 64)
    return path


@pytest.fixture
def pull(image: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Pull:
    """Do something with the disk and pull its plug, with a given chance of loss."""

    def done(chance: float, deed: Callable[[Client], None]) -> Pulled:
        monkeypatch.setattr(disks, "CHANCES", (chance,))
        disk = VolatileDisk(image, tmp_path / "socket")
        with closing(Client(tmp_path / "socket")) as client:
            deed(client)
        return disk.pull(random.Random(1))

    return done


def _write(client: Client) -> None:
    client.ask(WRITE, 0, NEW * 8)
    client.ask(FLUSH)
    client.ask(WRITE, 8 * SECTOR, NEW * 8)


@pytest.mark.parametrize(("chance", "kept"), [(0.0, 16), (1.0, 8)])
def test_what_was_flushed_stays(pull: Pull, image: Path, chance: float, kept: int) -> None:
    """Sectors written before a flush stay; those after it stay or go by the drawn chance."""
    pulled = pull(chance, _write)
    assert pulled == Pulled(chance, 8, 16 - kept)
    assert image.read_bytes() == NEW * kept + b"o" * SECTOR * (64 - kept)


def test_sectors_are_lost_one_by_one(pull: Pull, image: Path) -> None:
    """With a chance between, writes are torn: later sectors may be there and earlier ones not."""
    pulled = pull(0.5, lambda client: client.ask(WRITE, 0, NEW * 64))
    there = [image.read_bytes()[at * SECTOR] for at in range(64)]
    assert pulled.lost == there.count(ord("o"))
    assert 10 < pulled.lost < 54
    assert there != sorted(there)


def test_a_forced_write_stays(pull: Pull, image: Path) -> None:
    """A write that asks to be on the disk when it is answered is not lost."""
    pulled = pull(1.0, lambda client: client.ask(WRITE, SECTOR, NEW, flags=1))
    assert pulled == Pulled(1.0, 0, 0)
    assert image.read_bytes()[SECTOR : 2 * SECTOR] == NEW


WHOLE: Found = {
    "integrity": "ok", "foreign": 0, "set_aside": 0, "kept": [3, 5, "ab"], "kept_batches": [2, 4],
    "runs": [2, 1], "gap": {"text": "Power was off."},
}  # fmt: skip
PROMISE = Promise((3, 5, "ab"), (2, 4), (2, 1))


def test_a_whole_journal_is_accepted() -> None:
    """Everything that was promised is there, and the open run was taken up."""
    judge(WHOLE, PROMISE)


@pytest.mark.parametrize(
    "change",
    [
        {"integrity": "row 3 missing from index"},
        {"foreign": 1},
        {"set_aside": 1},
        {"kept": [2, 5, "ab"]},
        {"kept": [3, 5, "cd"]},
        {"kept_batches": [1, 4]},
        {"gap": None},
    ],
    ids=lambda change: next(iter(change)),
)
def test_every_kind_of_loss_is_seen(change: Found) -> None:
    """Damage, a missing or changed event, a missing batch, a run not taken up: each fails."""
    with pytest.raises(ProofError):
        judge(WHOLE | change, PROMISE)


def test_an_empty_journal_is_a_loss() -> None:
    """A journal that is gone is no fresh start where something was promised."""
    judge({}, Promise())
    with pytest.raises(ProofError, match="gone"):
        judge({}, PROMISE)


def _gap(**said: object) -> dict[str, object]:
    times = {"last_boot": "a", "last_ms": 160_000, "boot": "b", "now_ms": 80_000}
    return {"seconds": 400.0, "at_least": 80.0, "at_most": None} | times | said


@pytest.mark.parametrize(
    ("chips", "said", "honest"),
    [
        ((True, True), {}, True),  # (1060 - 1010) s at eight times the speed
        ((True, True), {"seconds": 300.0}, False),
        ((True, True), {"seconds": None}, False),
        ((True, False), {"seconds": None}, True),
        ((False, True), {}, False),
        ((True, False), {"seconds": None, "at_least": 500.0}, False),
        ((True, False), {"seconds": None, "at_most": 900.0}, False),
    ],
)
def test_a_gap_is_held_against_the_hosts_clock(
    chips: tuple[bool, bool], said: dict[str, object], honest: bool
) -> None:
    """A gap may be told as known only with a clock chip at both ends, and must then be right."""
    boots = Boots(8.0)
    boots.seen("a", chips[0], at=1000.5, uptime=10.0)
    boots.seen("a", chips[0], at=1001.0, uptime=11.0)  # the earliest line is the best
    boots.seen("b", chips[1], at=1065.0, uptime=15.0)
    if honest:
        found = boots.judge(_gap(**said))
        assert found is not None
        assert found.true_seconds == 400.0
    else:
        with pytest.raises(ProofError):
            boots.judge(_gap(**said))
