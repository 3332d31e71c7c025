"""Notes of the desk, as a station meets them: whole, broken, foreign, late."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from wetside.commands.bench.rig import Rig, RigOptions
from wetside.cues.desknotes import DeskNotes
from wetside.session import sheet as sheets
from wetside.session.presses import Button
from wetside.sim.scripts import script
from wetside.sim.situation import usual
from wetside.station.desknotes import LOOK_SECONDS, NoteReader

ROWS = ["1" * 21] * 21
CLAIM = {"format": 1, "code": "7K2M-9QXA", "address": "http://10.0.0.5:8470", "qr": ROWS}
LABEL = {"format": 1, "run": "r1", "url": "HTTP://10.0.0.5:8470/L/X", "expires": 500.0, "qr": ROWS}
ADDRESS = {
    "format": 1,
    "address": "http://10.0.0.5:8470",
    "name": "",
    "fingerprint": "",
    "qr": ROWS,
}


def put(folder: Path, name: str, note: object) -> None:
    """Write a note as the desk does: beside, then in its place."""
    part = folder / f".{name}.next"
    part.write_text(note if isinstance(note, str) else json.dumps(note), encoding="utf-8")
    part.replace(folder / f"{name}.json")


def look(folder: Path, wall: float = 100.0) -> DeskNotes:
    return NoteReader(folder, lambda: wall).look(0.0, wanted=True)


def test_the_three_notes_are_read(tmp_path: Path) -> None:
    """Whole notes are given as they were written."""
    for name, note in (("claim", CLAIM), ("label", LABEL), ("address", ADDRESS)):
        put(tmp_path, name, note)
    notes = look(tmp_path)
    assert notes.claim is not None
    assert notes.label is not None
    assert notes.address is not None
    assert "7K2M-9QXA" == notes.claim.code
    assert ("r1", tuple(ROWS)) == (notes.label.run, notes.label.qr)
    assert "http://10.0.0.5:8470" == notes.address.address


@pytest.mark.parametrize(
    "content",
    [
        "",
        json.dumps(CLAIM)[:-20],
        "[" * 30_000,
        "null",
        json.dumps({**CLAIM, "format": 2}),
        json.dumps({**CLAIM, "code": 7}),
        json.dumps({**CLAIM, "code": "7K2M\n9QXA"}),
        json.dumps({**CLAIM, "address": "h" * 201}),
        json.dumps({**CLAIM, "qr": ROWS[:20]}),
        json.dumps({**CLAIM, "qr": ["1" * 20] * 21}),
        json.dumps({**CLAIM, "qr": ["x" * 21] * 21}),
        json.dumps({**CLAIM, "qr": "1" * 21}),
        json.dumps({**CLAIM, "qr": [["1"] * 21] * 21}),
        json.dumps({**CLAIM, "more": "x" * 50_000}),
        json.dumps({key: value for key, value in CLAIM.items() if key != "qr"}),
    ],
)
def test_a_note_that_is_not_whole_is_as_none(tmp_path: Path, content: str) -> None:
    """Half, foreign, huge or wrong: it is left out, the others are shown."""
    put(tmp_path, "claim", content)
    put(tmp_path, "address", ADDRESS)
    notes = look(tmp_path)
    assert notes.claim is None
    assert notes.address is not None


@pytest.mark.parametrize("expires", [99.0, 100.0, "500", True, None])
def test_a_label_that_ended_is_not_shown(tmp_path: Path, expires: object) -> None:
    """At its end, after it, or without an end in seconds."""
    put(tmp_path, "label", {**LABEL, "expires": expires})
    assert look(tmp_path).label is None


def test_a_label_ends_while_it_stands_there(tmp_path: Path) -> None:
    """The file need not change for it to end."""
    put(tmp_path, "label", LABEL)
    wall = [499.0]
    reader = NoteReader(tmp_path, lambda: wall[0])
    assert reader.look(0.0, wanted=True).label is not None
    wall[0] = 500.0
    assert reader.look(LOOK_SECONDS, wanted=True).label is None


def test_a_pipe_a_link_and_a_folder_do_not_hold_the_loop_up(tmp_path: Path) -> None:
    """What is no ordinary file is left alone at once; opening a pipe would wait for ever."""
    os.mkfifo(tmp_path / "claim.json")
    put(tmp_path, "elsewhere", LABEL)
    (tmp_path / "label.json").symlink_to(tmp_path / "elsewhere.json")
    (tmp_path / "address.json").mkdir()
    assert DeskNotes() == look(tmp_path)


def test_a_folder_that_is_gone_has_no_notes(tmp_path: Path) -> None:
    """The desk's folder may vanish and come back."""
    folder = tmp_path / "live"
    reader = NoteReader(folder)
    assert DeskNotes() == reader.look(0.0, wanted=True)
    folder.mkdir()
    put(folder, "claim", CLAIM)
    assert reader.look(LOOK_SECONDS, wanted=True).claim is not None
    (folder / "claim.json").unlink()
    assert reader.look(2 * LOOK_SECONDS, wanted=True).claim is None


def test_a_note_is_read_once_and_again_when_it_was_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A hundred looks at an unchanged file read it once; none is made while a run is open."""
    opened: list[str] = []
    really = os.open

    def counted(path: Path, flags: int, *more: int) -> int:
        opened.append(Path(path).name)
        return really(path, flags, *more)

    put(tmp_path, "claim", CLAIM)
    reader = NoteReader(tmp_path)
    with monkeypatch.context() as patched:
        patched.setattr(os, "open", counted)
        for second in range(100):
            reader.look(float(second), wanted=True)
        assert ["claim.json"] == opened
        patched.setattr(Path, "lstat", lambda _: pytest.fail("looked"))
        assert DeskNotes() == reader.look(100.0, wanted=False)
    put(tmp_path, "claim", {**CLAIM, "code": "AAAA-BBBB"})
    found = reader.look(100.0, wanted=True).claim
    assert found is not None
    assert "AAAA-BBBB" == found.code


def test_a_look_is_cheap(tmp_path: Path) -> None:
    """A thousand looks at three notes take less than the half second between two frames."""
    for name, note in (("claim", CLAIM), ("label", LABEL), ("address", ADDRESS)):
        put(tmp_path, name, note)
    reader = NoteReader(tmp_path, lambda: 100.0)
    reader.look(0.0, wanted=True)
    began = time.process_time()
    for second in range(1000):
        reader.look(float(second), wanted=True)
    assert time.process_time() - began < 0.5


def test_wait_held_between_rolls_shows_the_address(tmp_path: Path) -> None:
    """Held for a second, wait asks for the desk's address; the next press ends it."""
    there = sheets.load(sheets.available([sheets.shipped_folder()])[0])
    names: list[str] = []

    def see(values: Mapping[str, Any]) -> None:
        names.append(values["screen"]["name"])

    options = RigOptions(tmp_path, there, usual(there.setup(), 1), script("me"), seed=1)
    rig = Rig(options, on_live=see)
    put(rig.settings.live_folder, "address", ADDRESS)
    rig.world.press(Button.WAIT, 1.5)
    rig.turn_until(lambda: names[-1:] == ["address"])
    rig.world.press(Button.WAIT, 0.1)
    rig.turn_until(lambda: names[-1:] == ["idle"])
    rig.close()


def test_a_secret_is_on_the_display_and_not_in_the_live_file(tmp_path: Path) -> None:
    """The board is open to everybody on the network: it must not tell the one-time code."""
    there = sheets.load(sheets.available([sheets.shipped_folder()])[0])
    rig = Rig(RigOptions(tmp_path, there, usual(there.setup(), 1), script("me"), seed=1))
    put(rig.settings.live_folder, "claim", CLAIM)
    file = rig.settings.live_folder / "live.json"
    seen: set[str] = set()

    def both() -> bool:
        if file.exists():
            text = file.read_text(encoding="utf-8")
            seen.add(json.loads(text)["screen"]["name"])
            assert "7K2M" not in text
        return {"first-start", "first-start-code"} <= seen

    rig.turn_until(both)
    rig.close()
