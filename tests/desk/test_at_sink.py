"""Settings that the station takes up: written by the page, read by the station's own code."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from wetside.session import sheetbook
from wetside.session.sinkfile import AgitationCalls, Pitch, SinkFile, Tones
from wetside.settings import StationSettings
from wetside.station.choices import Choices
from wetside_desk.store import preferences, versions

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient
    from tests.desk.asking import database_of, desk_of, form_of
else:
    from desk_asking import database_of, desk_of, form_of


def files_of(client: TestClient) -> Path:
    """The folder of the teacher's files."""
    folder: Path = desk_of(client).settings.files_folder
    return folder


def at_the_station(client: TestClient) -> SinkFile:
    """What a station set up beside this desk reads at its next roll."""
    settings = StationSettings(bells_file=files_of(client) / "bells.toml")
    return Choices(settings.choices_file).now


def seen_of(client: TestClient) -> str:
    """The tag that the page's form carries."""
    text = client.get("/settings").text
    return text.split('name="seen" value="')[1].split('"')[0]


def send(client: TestClient, **fields: str) -> int:
    """Send the form of the sink as the page has it now; the answer's status."""
    data = {"form": form_of(client), "seen": seen_of(client), **fields}
    return client.post("/settings/sink", data=data).status_code


def test_tones_and_unit_reach_the_station(client: TestClient) -> None:
    """What is chosen on the page is what the station reads; taken back, it is as installed."""
    assert SinkFile() == at_the_station(client)
    assert 200 == send(client, agitation="begin", pitch="high", fahrenheit="F")
    tones = Tones(agitation=AgitationCalls.BEGIN, calm=False, pitch=Pitch.HIGH)
    assert SinkFile(fahrenheit=True, tones=tones) == at_the_station(client)
    page = client.get("/settings").text
    for chosen in ("begin", "high", "F"):
        assert f'<option value="{chosen}" selected>' in page
    assert 200 == send(client, agitation="full", calm="on", pitch="usual")
    assert SinkFile() == at_the_station(client)


@pytest.mark.parametrize(("field", "value"), [("agitation", "loud"), ("pitch", "9"), ("seen", "x")])
def test_what_cannot_be_is_refused(client: TestClient, field: str, value: str) -> None:
    """An unknown choice, or a form that saw another state, changes nothing and is told."""
    send(client, agitation="begin", calm="on", pitch="usual")
    assert 422 == send(client, **{"agitation": "full", "calm": "on", field: value})
    assert AgitationCalls.BEGIN is at_the_station(client).tones.agitation


def test_a_file_with_mistakes_is_told_on_the_page(client: TestClient) -> None:
    """Somebody edited it by hand: the page names the key, and saving mends it."""
    file = files_of(client) / "sink.toml"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text('# mine\n[tones]\npitch = "deep"\n', encoding="utf-8")
    assert "tones.pitch" in client.get("/settings").text
    assert 200 == send(client, agitation="full", calm="on", pitch="low")
    assert Pitch.LOW is at_the_station(client).tones.pitch
    assert "# mine" in file.read_text(encoding="utf-8")


def test_a_file_that_is_no_text_is_told_on_the_page(client: TestClient) -> None:
    """What cannot be read is not written over."""
    file = files_of(client) / "sink.toml"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(b"\xff\xfe")
    assert 422 == send(client, agitation="full", calm="on", pitch="low")
    assert b"\xff\xfe" == file.read_bytes()


@pytest.mark.parametrize(("unit", "given", "celsius"), [("C", "0,5", 0.5), ("F", "0.9", 0.5)])
def test_a_tolerance_reaches_the_station(
    client: TestClient, unit: str, given: str, celsius: float
) -> None:
    """Given in the teacher's unit, it stands in the sheet that the next roll begins with."""
    preferences.save(database_of(client), preferences.Preferences(temperature=unit))
    data = {"form": form_of(client), "file": "one-reel-20.toml", "tolerance": given}
    assert 200 == client.post("/settings/tolerance", data=data).status_code
    book = sheetbook.read(files_of(client) / "sheets")
    assert [] == book.left_out
    begun = next(one.sheet for one in book.offers if one.sheet.name == "one reel 20")
    assert celsius == begun.setup().tolerance_celsius
    assert f'value="{given.replace(",", ".")}"' in client.get("/settings").text
    assert 1 == len(versions.of(database_of(client), "sheet", "one-reel-20.toml"))


def test_a_tolerance_is_refused_in_the_unit_it_was_given_in(client: TestClient) -> None:
    """40 °F are too many, and at most 2.7 °F are said."""
    client.post("/settings/preferences", data={"form": form_of(client), "temperature": "F"})
    sent = {"form": form_of(client), "file": "one-reel-20.toml", "tolerance": "40"}
    answer = client.post("/settings/tolerance", data=sent)
    assert 422 == answer.status_code
    assert "at most 2.7 °F" in answer.text


@pytest.mark.parametrize("given", ["", "wide", "0", "1.6", "nan"])
def test_a_tolerance_that_cannot_be_is_refused(client: TestClient, given: str) -> None:
    """No number, none at all or too many degrees: told, and no sheet is made."""
    data = {"form": form_of(client), "file": "one-reel-20.toml", "tolerance": given}
    assert 422 == client.post("/settings/tolerance", data=data).status_code
    assert not (files_of(client) / "sheets").exists()
