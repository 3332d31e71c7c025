"""The one small file that tells the desk what the station is doing now (docs/live.md)."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path

from PIL import Image

from wetside import __version__, wholefile
from wetside.clock import Moment
from wetside.cues.notice import Notice
from wetside.cues.snapshot import Snapshot
from wetside.cues.wording import PROMISED_SDS
from wetside.outlook import Outlook
from wetside.session.chemistry import choice_object
from wetside.session.events import Json
from wetside.session.machine import OPEN_STATES
from wetside.session.signals import Cue

FORMAT = 1


def outlook_object(outlook: Outlook) -> dict[str, object]:
    """An outlook as the replay contract writes it (docs/replay.md)."""
    return {**asdict(outlook), "faults": list(outlook.faults)}


def picture_text(picture: Image.Image) -> str:
    """The 1024 bytes of a 128x64 picture in base64: 64 rows of 16 bytes, first pixel highest."""
    return base64.b64encode(picture.tobytes()).decode("ascii")


def live_object(
    station: str,
    moment: Moment,
    snapshot: Snapshot,
    notice: Notice,
    picture: Image.Image,
    last_cue: Cue | None,
    bell: Mapping[str, Json] | None = None,
    advice: Mapping[str, Json] | None = None,
) -> dict[str, object]:
    """Everything the desk shows live, as JSON values."""
    session = snapshot.session
    sheet = session.sheet or snapshot.offered
    step, following, began = session.present, session.following, session.began
    timed = session.state in OPEN_STATES
    return {
        "format": FORMAT,
        "station": station,
        "version": __version__,
        "at": moment.seconds,
        "boot": moment.boot,
        "wall": moment.wall_seconds,
        "trusted": moment.trusted,
        "state": str(session.state),
        "run": session.run if timed else None,
        "sheet": {"name": sheet.name, "title": sheet.title} if sheet else None,
        "step": {
            "index": session.step,
            "kind": str(step.kind),
            "solution": step.solution,
            "planned_seconds": step.seconds,
            "adjusted": session.adjusted,
            "elapsed_seconds": round(moment.seconds - began, 2),
            "agitating": session.agitating,
        }
        if timed and step is not None and began is not None
        else None,
        "next": (following.solution or str(following.kind)) if timed and following else None,
        "outlook": outlook_object(snapshot.outlook) if snapshot.outlook else None,
        "only_a_dip_tells": snapshot.only_a_dip_tells,
        "choice": choice_object(snapshot.choice) if snapshot.choice else None,
        "effective": asdict(session.developed) if session.developed else None,
        "bell": None if bell is None else dict(bell),
        "places": {name: str(place) for name, place in snapshot.places.items()},
        "probe": {
            "corrected": snapshot.corrected,
            "sd_celsius": round(snapshot.probe_sd_celsius, 3),
            "promised_celsius": round(PROMISED_SDS * snapshot.probe_sd_celsius, 2),
        },
        "troubles": {name: str(condition) for name, condition in snapshot.troubles.items()},
        "flags": list(session.flags),
        "screen": {
            "name": notice.name,
            "head": notice.head,
            "big": notice.big,
            "lines": list(notice.lines),
            "text": notice.text(),
        },
        "dark": snapshot.lights_out,
        "picture": picture_text(picture),
        "last_cue": {
            "name": str(last_cue.name),
            "at": last_cue.seconds,
            "values": dict(last_cue.values),
        }
        if last_cue
        else None,
        "advice": None if advice is None else dict(advice),
        "warnings": list(snapshot.warnings),
    }


class LiveFile:
    """Replaces ``live.json`` in a tmpfs folder, whole, so that a reader never sees a half."""

    def __init__(self, path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self._path = path

    def write(self, values: Mapping[str, object]) -> None:
        """Replace the file.

        Raises
        ------
        OSError
            The folder is full, or cannot be written.
        """
        self._path.parent.mkdir(parents=True, exist_ok=True)
        # a tmpfs has no disk to wait for
        wholefile.replace(self._path, json.dumps(values, separators=(",", ":")), durable=False)

    def remove(self) -> None:
        """The station is going: nothing is live any more."""
        self._path.unlink(missing_ok=True)
