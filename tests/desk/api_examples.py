"""Examples of the API's answers, asked of a desk over the invented school.

``python tests/desk/api_examples.py`` writes them to server/wetside_desk/api/examples.json.
"""

from __future__ import annotations

import json
import os
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import wetside_desk
from wetside_desk import schooltime
from wetside_desk.settings import DeskSettings

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.beside import beside
else:
    from beside import beside

FILE = Path(wetside_desk.__file__).parent / "api" / "examples.json"
#: So many members of a list, and lines of a text, show what it is.
_FEW, _LINES = 3, 4
#: What differs from one asking to the next, and what stands in its place.
_STEADY = {"age_seconds": 0.2, "observedValue": 398336}

#: Questions by the operation that they are of; {run} is the latest run.
QUESTIONS = {
    "GET /v1/station": "/v1/station",
    "GET /v1/runs": "/v1/runs?limit=2",
    "GET /v1/runs/{run}": "/v1/runs/{run}",
    "GET /v1/runs/{run}/trace.csv": "/v1/runs/{run}/trace.csv",
    "GET /v1/health": "/v1/health",
    "GET /v1/shelf": "/v1/shelf",
    "GET /v1/shelf/uses": "/v1/shelf/uses",
    "GET /v1/shelf/class": "/v1/shelf/class?tanks=9",
    "GET /v1/shelf/mixing": "/v1/shelf/mixing?total=2L&strength=1%2B4&holds=fixer",
    "GET /v1/shelf/week": "/v1/shelf/week?day=2025-11-17",
    "GET /v1/shelf/wash": "/v1/shelf/wash?tank=500mL&rolls=2&water=12C",
    "GET /v1/bells": "/v1/bells",
    "GET /v1/bells/day": "/v1/bells/day?day=2025-11-17",
    "GET /v1/bells/starts": "/v1/bells/starts",
    "GET /v1/bells/capacity": "/v1/bells/capacity?period=3&students=9",
    "GET /v1/sheets": "/v1/sheets",
    "GET /v1/sheets/{file}": "/v1/sheets/rotary.toml",
    "GET /v1/sheets/{file}/versions": "/v1/sheets/short-wash.toml/versions",
    "GET /v1/sheets/{file}/changes": "/v1/sheets/short-wash.toml/changes?before=1",
}

#: What a sheet of the school may say beside the shipped ones.
FACTOR = """[step.development]
factor = [{ why = "continuous agitation", times = 0.85, basis = "teacher's own" }]
"""
#: What the invented live file leaves out.
LIVE = {
    "probe": {"corrected": True, "sd_celsius": 0.1, "promised_celsius": 0.2},
    "advice": {"ways": [{"words": "Add 200 mL of hot tap water", "ready_in": 95.0}]},
    "last_cue": {"name": "soon", "at": 890.0},
}

JSON = {"Content-Type": "application/json"}
TOML = {"Content-Type": "application/toml"}
#: Changes, in this order: address, headers, body.
CHANGES: dict[str, tuple[str, dict[str, str], str]] = {
    "POST /v1/shelf/check": ("/v1/shelf/check", TOML, 'format = 1\n[[bottle]]\nlabel = "A"\n'),
    "POST /v1/bells/check": ("/v1/bells/check", TOML, "format = 1\nclear_up_minutes = -1\n"),
    "POST /v1/sheets/check": ("/v1/sheets/check", TOML, 'format = 1\nname = "my sheet"\n'),
    "POST /v1/shelf/bottles/{label}/tests": (
        "/v1/shelf/bottles/Fixer%202/tests",
        JSON,
        '{"clearing_seconds": 41}',
    ),
    "POST /v1/shelf/bottles/{label}/fillings": (
        "/v1/shelf/bottles/Clearing/fillings",
        JSON,
        '{"mixed_on": "2025-11-17"}',
    ),
    "POST /v1/shelf/bottles/{label}/moves": (
        "/v1/shelf/bottles/Fixer%201/moves",
        JSON,
        '{"bath_2": "Fixer 2", "mixed_on": "2025-11-17"}',
    ),
    "POST /v1/sheets/{file}/copies": (
        "/v1/sheets/one-reel-20.toml/copies",
        JSON,
        '{"file": "two-films-20.toml", "name": "two films 20"}',
    ),
}


def short(value: Any) -> Any:  # noqa: ANN401  # any JSON
    """An answer with few members in its lists, and the same at each asking."""
    if isinstance(value, dict):
        return {name: _STEADY.get(name, short(one)) for name, one in value.items()}
    if isinstance(value, list):
        return [short(one) for one in value[:_FEW]]
    return value


def asked(client: TestClient) -> dict[str, Any]:
    """The answer to each question, by its operation."""
    latest = client.get("/v1/runs").json()["runs"][0]["id"]
    found = {}
    for operation, address in QUESTIONS.items():
        answer = client.get(address.format(run=latest))
        answer.raise_for_status()
        text = answer.headers["content-type"].startswith("text/")
        lines = answer.text.splitlines()[:_LINES]
        found[operation] = "\n".join([*lines, ""]) if text else short(answer.json())
    now = json.dumps(found["GET /v1/station"])
    found["GET /v1/live"] = f"event: station\nid: 1\ndata: {now}\n\n"
    for operation, (address, headers, body) in CHANGES.items():
        if operation.endswith("/moves"):
            _two_baths(client)
        answer = client.post(address, headers=headers, content=body)
        answer.raise_for_status()
        found[operation] = short(answer.json())
    return found


def _two_baths(client: TestClient) -> None:
    """Make the two fixers two baths."""
    kept = client.get("/v1/shelf/file")
    parts = kept.text.split("[[bottle]]")
    for number in (1, 2):
        at = next(at for at, part in enumerate(parts) if f'"Fixer {number}"' in part)
        parts[at] = parts[at].replace('use = "reused"', f'use = "two-bath"\nbath = {number}')
    headers = {**TOML, "If-Match": kept.headers["etag"]}
    text = "[[bottle]]".join(parts)
    client.put("/v1/shelf/file", headers=headers, content=text).raise_for_status()


def made(folder: Path) -> dict[str, Any]:
    """The examples, of a desk in an empty folder."""
    invented, stocked = beside("invented"), beside("stocked")
    (folder / "live").mkdir()
    settings = DeskSettings(
        journal=folder / "journal.sqlite3", live=folder / "live", data=folder / "desk"
    )
    invented.ten_runs(settings.journal)
    stocked.put(settings)
    rotary = stocked.own("rotary").replace("[step.development]\n", FACTOR, 1)
    rotary = rotary.replace("seconds = 430", "seconds = 367", 1)  # the time with that factor
    (stocked.folder_of(settings) / "rotary.toml").write_text(rotary, encoding="utf-8")
    invented.write_live(settings.live_file, **LIVE)
    schooltime.now = lambda: stocked.NOW
    with invented.local(settings) as client:
        return asked(client)


if __name__ == "__main__":
    os.environ["TZ"] = "UTC"
    time.tzset()
    with tempfile.TemporaryDirectory() as there:
        examples = made(Path(there))
    FILE.write_text(
        json.dumps(examples, indent=1, ensure_ascii=False, sort_keys=True) + "\n", encoding="utf-8"
    )
