"""Forms that come too late: what they change, and what the page shows after it refused one."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING, Any

from starlette.testclient import TestClient

from wetside.session import sheet as sheets
from wetside.session.sheet import StepKind
from wetside_desk.store import class_plan, preferences

if TYPE_CHECKING:
    from tests.desk.asking import database_of, filled, press, shelf_file

    from wetside_desk.settings import DeskSettings
else:
    from desk_asking import database_of, filled, press, shelf_file

BOTTLE = "/shelf/bottles/Fixer%201"
SHEET = "/sheets/short-wash.toml"


def periods(settings: DeskSettings) -> list[tuple[str, str, str]]:
    """Name, beginning and group of each period in the file."""
    text = (settings.files_folder / "bells.toml").read_text(encoding="utf-8")
    found = tomllib.loads(text)["period"]
    return [(one["name"], str(one["starts"]), one.get("group", "")) for one in found]


def opened(client: TestClient, place: int) -> dict[str, list[str]]:
    """The form of a period, as one of several tabs opens it."""
    address = f"/bells/periods/{place}"
    return filled(client.get(address).text, address)


def take(client: TestClient, place: int, fields: dict[str, list[str]]) -> Any:  # noqa: ANN401  # the client's own types
    """Take a period away with a form that was opened before."""
    hidden = ("form", "seen", "opened")
    kept = {name: texts for name, texts in fields.items() if name in hidden}
    return press(client, f"/bells/periods/{place}", kept, take="yes", sure="on")


def test_a_late_form_takes_no_other_period_away(pages: TestClient, school: DeskSettings) -> None:
    """The period has another place by now: the form that comes again is that of this period."""
    late, before = opened(pages, 2), periods(school)
    assert 303 == take(pages, 1, opened(pages, 1)).status_code
    answer = take(pages, 2, late)
    assert 422 == answer.status_code
    assert "<h1>Period <bdi>2</bdi></h1>" in answer.text
    assert before[1:] == periods(school)
    again = filled(answer.text, "/bells/periods/1")
    assert 303 == take(pages, 1, again).status_code
    assert before[2:] == periods(school)


def test_a_late_change_stays_with_its_period(pages: TestClient, school: DeskSettings) -> None:
    """What was typed stands in the form of the same period again, and goes into that one."""
    late, before = opened(pages, 2), periods(school)
    take(pages, 1, opened(pages, 1))
    answer = press(pages, "/bells/periods/2", late, group="Photo 9")
    assert 422 == answer.status_code
    assert "with what you changed in it: “Group”" in answer.text
    again = filled(answer.text, "/bells/periods/1")
    assert 303 == press(pages, "/bells/periods/1", again).status_code
    assert [(*before[1][:2], "Photo 9"), *before[2:]] == periods(school)


def test_a_period_that_is_gone_is_looked_for_in_the_table(
    pages: TestClient, school: DeskSettings
) -> None:
    """The table is shown, with what had been typed, and nothing there is changed."""
    late = opened(pages, 2)
    take(pages, 2, opened(pages, 2))
    before = periods(school)
    answer = press(pages, "/bells/periods/2", late, group="Photo 9")
    assert 422 == answer.status_code
    assert "does not stand in it as you saw it" in answer.text
    assert "“Group” Photo 9" in answer.text
    assert "<h1>Bells</h1>" in answer.text
    assert before == periods(school)


def bottle(settings: DeskSettings) -> dict[str, Any]:
    """The first fixer in the file."""
    return next(one for one in shelf_file(settings)["bottle"] if one["label"] == "Fixer 1")


def test_a_late_form_of_a_bottle_reverts_nothing(pages: TestClient, school: DeskSettings) -> None:
    """It comes again as the bottle is now, with its own changes in it, and keeps only those."""
    to = f"{BOTTLE}/change"
    late = filled(pages.get(BOTTLE).text, to)
    press(pages, to, filled(pages.get(BOTTLE).text, to), strength="1+9")
    answer = press(pages, to, late, source="its can")
    assert 422 == answer.status_code
    assert "with what you changed in it: “Who says how long it lasts”." in answer.text
    again = filled(answer.text, to)
    assert (["1+9"], ["its can"]) == (again["strength"], again["source"])
    assert 303 == press(pages, to, again).status_code
    assert ("1+9", "its can") == (bottle(school)["strength"], bottle(school)["source"])


def test_a_late_form_with_a_mistake_is_late_first(pages: TestClient, school: DeskSettings) -> None:
    """A mistake in one field brings no old text back into the others."""
    to = f"{BOTTLE}/change"
    late = filled(pages.get(BOTTLE).text, to)
    press(pages, to, filled(pages.get(BOTTLE).text, to), strength="1+9")
    again = filled(press(pages, to, late, rolls_before="many").text, to)
    assert (["1+9"], ["many"]) == (again["strength"], again["rolls_before"])
    press(pages, to, again, rolls_before="7")
    assert ("1+9", 7) == (bottle(school)["strength"], bottle(school)["rolls_before"])


def test_a_field_that_two_changed_is_said_with_its_value(pages: TestClient) -> None:
    """Who keeps over another's value sees it before."""
    to = f"{BOTTLE}/change"
    late = filled(pages.get(BOTTLE).text, to)
    press(pages, to, filled(pages.get(BOTTLE).text, to), strength="1+9")
    answer = press(pages, to, late, strength="1+7")
    assert "“Strength” (1+9 by now)" in answer.text


def test_a_late_usual_change_reverts_nothing(pages: TestClient, school: DeskSettings) -> None:
    """The times that somebody else changed stay as they are now."""
    to = f"{SHEET}/usual"
    late = filled(pages.get(SHEET).text, to)
    press(pages, to, filled(pages.get(SHEET).text, to), fix="8:00")
    answer = press(pages, to, late, wash="9:00")
    assert 422 == answer.status_code
    assert 303 == press(pages, to, filled(answer.text, to)).status_code
    made = sheets.load(school.files_folder / "sheets" / "short-wash.toml")
    seconds = {step.kind: step.seconds for step in made.step}
    assert (480, 540) == (seconds[StepKind.FIX], seconds[StepKind.WASH])


def test_days_without_school_outlast_a_late_form(pages: TestClient, school: DeskSettings) -> None:
    """A form of the bell table that comes too late brings no old days back."""
    late = filled(pages.get("/bells").text, "/bells/table")
    press(pages, "/bells/table", late, closed="2025-12-24")
    answer = press(pages, "/bells/table", late, clear_up_minutes="7")
    press(pages, "/bells/table", filled(answer.text, "/bells/table"))
    found = tomllib.loads((school.files_folder / "bells.toml").read_text(encoding="utf-8"))
    assert ("2025-12-24", 7) == (str(found["closed"][0]), found["clear_up_minutes"])


def test_choices_of_two_tabs_are_kept_both(pages: TestClient) -> None:
    """A form of the desk's choices writes only what was changed in it."""
    to = "/settings/preferences"
    late = filled(pages.get("/settings").text, to)
    assert 303 == press(pages, to, late, board="teacher", retention_days="30").status_code
    assert 303 == press(pages, to, late, temperature="F").status_code
    found = preferences.load(database_of(pages))
    assert ("teacher", 30, "F") == (found.board, found.retention_days, found.temperature)


def test_a_choice_that_two_changed_is_asked_about(pages: TestClient) -> None:
    """It is refused once with the present one, and taken when it is kept again."""
    to = "/settings/preferences"
    late = filled(pages.get("/settings").text, to)
    press(pages, to, late, retention_days="30")
    answer = press(pages, to, late, retention_days="90")
    assert 422 == answer.status_code
    assert "it is 30 by now" in answer.text
    assert 30 == preferences.load(database_of(pages)).retention_days
    assert 303 == press(pages, to, filled(answer.text, to)).status_code
    assert 90 == preferences.load(database_of(pages)).retention_days


def test_the_room_of_two_tabs_is_kept_both(pages: TestClient) -> None:
    """Of the room too only what was changed is written; what is emptied is as not said."""
    to = "/bells/room"
    late = filled(pages.get("/bells").text, to)
    assert 303 == press(pages, to, late, stations="3", again_minutes="2").status_code
    assert 303 == press(pages, to, late, ready_minutes="20").status_code
    found = class_plan.load(database_of(pages))
    assert (3, 20, 2) == (found.stations, found.ready_minutes, found.again_minutes)
    fields = filled(pages.get("/bells").text, to)
    assert 303 == press(pages, to, fields, again_minutes="").status_code
    assert 20 == class_plan.load(database_of(pages)).tempering_again
