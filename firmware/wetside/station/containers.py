"""What this station has learnt about its containers: one small file beside the journal.

The file names every run that was looked at, with what it told, so that a run counts once and
no run that was forgotten comes back. It is replaced whole; a kill leaves the old one or the new.
A file that cannot be read is as good as none: the station tempers with the bare physics.
"""

from __future__ import annotations

import fcntl
import json
import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from wetside import wholefile
from wetside.outlook import Setup, Wall
from wetside.settings import StationSettings
from wetside.thermal.learning import Evidence, learn
from wetside.thermal.priors import Prior, prior_for

FORMAT = 1
#: The latest runs of a container that count; older ones are of another year's habits.
RUNS_COUNTED = 20
#: Runs that the file remembers to have looked at, over all containers.
RUNS_KEPT = 400


@dataclass(frozen=True, slots=True)
class Container:
    """A container as far as sheets name it; all of which nothing is said are one."""

    wall: Wall | None = None
    millilitres: float | None = None

    @property
    def name(self) -> str:
        """Words for people, for example ``plastic 300 mL``."""
        volume = None if self.millilitres is None else f"{self.millilitres:g} mL"
        return " ".join(str(part) for part in (self.wall, volume) if part) or "unnamed"

    @property
    def bare(self) -> Prior:
        """What physics says of it before any run."""
        return prior_for(Setup(20.0, wall=self.wall, volume_millilitres=self.millilitres))


@dataclass(frozen=True, slots=True)
class Studied:
    """One run that was looked at; ``evidence`` is None where it told nothing or is forgotten.

    ``day`` is the date on which the run began, as the clock had it.
    """

    run: str
    container: Container
    day: str
    evidence: Evidence | None


#: All runs that were looked at, oldest first.
Ledger = tuple[Studied, ...]


@dataclass(frozen=True, slots=True)
class ContainerRow:
    """What is shown of one container.

    ``per_minute`` is the coupling k in 1/min at 3 K between bath and developer; two times in
    three the next run's lies within that times or over ``factor``. ``bare_per_minute`` and
    ``bare_factor`` say the same of a container without runs. ``runs`` of the ``looked_at`` told
    something, ``last`` is the day of the latest of these, empty where there is none.
    """

    container: Container
    runs: int
    looked_at: int
    last: str
    per_minute: float
    factor: float
    bare_per_minute: float
    bare_factor: float


def container_of(setup: Setup) -> Container:
    """The container that a sheet's wall and volume name."""
    return Container(setup.wall, setup.volume_millilitres)


def path_of(settings: StationSettings) -> Path:
    """Where a station keeps the file."""
    return settings.data_folder / "containers.json"


def read(path: Path) -> Ledger:
    """What the file holds; nothing where it is absent, of another format or broken."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        return tuple(_studied(row) for row in found["runs"]) if found["format"] == FORMAT else ()
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return ()


def is_broken(path: Path) -> bool:
    """Whether a file is there that should hold something, and `read` finds nothing in it."""
    if read(path):
        return False
    try:
        found: object = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return False
    except (OSError, ValueError, RecursionError):
        return True
    return found != {"format": FORMAT, "runs": []}


def _studied(row: Mapping[str, Any]) -> Studied:
    wall, volume, told = row["wall"], row["millilitres"], row["told"]
    container = Container(
        None if wall is None else Wall(wall), None if volume is None else float(volume)
    )
    evidence = None if told is None else Evidence(float(told[0]), float(told[1]))
    if evidence is not None and not (abs(evidence.log_coupling) < 50.0 and 0.0 < evidence.sd < 5.0):
        raise ValueError(f"no evidence: {told}")
    return Studied(str(row["run"]), container, str(row["day"]), evidence)


def write(path: Path, ledger: Ledger) -> None:
    """Replace the file.

    Raises
    ------
    OSError
        The folder is full, or cannot be written.
    """
    rows = [
        {
            "run": one.run,
            "wall": one.container.wall,
            "millilitres": one.container.millilitres,
            "day": one.day,
            "told": None
            if one.evidence is None
            else [round(one.evidence.log_coupling, 4), round(one.evidence.sd, 4)],
        }
        for one in ledger[-RUNS_KEPT:]
    ]
    wholefile.replace(path, json.dumps({"format": FORMAT, "runs": rows}, indent=0))


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Keep every other writer of the file out meanwhile.

    Raises
    ------
    OSError
        The folder cannot be written.
    """
    file = path.with_name(f".{path.name}.lock")
    with file.open("w", encoding="utf-8") as lock:
        wholefile.hand_over(file)
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def told_by(ledger: Ledger, container: Container) -> tuple[Studied, ...]:
    """The latest runs of a container that told something."""
    some = [one for one in ledger if one.container == container and one.evidence is not None]
    return tuple(some[-RUNS_COUNTED:])


def prior_of(ledger: Ledger, setup: Setup) -> Prior | None:
    """Prior for the next run with this container, None where nothing has been learnt."""
    container = container_of(setup)
    evidence = [one.evidence for one in told_by(ledger, container) if one.evidence]
    return learn(container.bare, evidence) if evidence else None


def forgotten(ledger: Ledger, container: Container | None) -> Ledger:
    """The ledger in which a container, or every one, has told nothing yet."""
    return tuple(
        replace(one, evidence=None) if container in {None, one.container} else one for one in ledger
    )


def learnt(ledger: Ledger) -> tuple[ContainerRow, ...]:
    """What is shown of every container that was met, in the order of their names."""
    found = sorted({one.container for one in ledger}, key=lambda container: container.name)
    return tuple(_learnt(ledger, container) for container in found)


def _learnt(ledger: Ledger, container: Container) -> ContainerRow:
    told = told_by(ledger, container)
    evidence = [one.evidence for one in told if one.evidence]
    bare = container.bare
    prior = learn(bare, evidence)
    return ContainerRow(
        container,
        runs=len(told),
        looked_at=sum(one.container == container for one in ledger),
        last=told[-1].day if told else "",
        per_minute=60.0 * math.exp(prior.log_coupling),
        factor=math.exp(prior.log_coupling_sd),
        bare_per_minute=60.0 * math.exp(bare.log_coupling),
        bare_factor=math.exp(bare.log_coupling_sd),
    )
