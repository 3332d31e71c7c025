"""The usual changes of a sheet, made in a form: what belongs together changes together."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING, Any

import pytest

from wetside.session import sheet as sheets
from wetside.session.sheet import shipped_folder
from wetside_desk.files import naming, usual_edits
from wetside_desk.files.usual_edits import CannotChange, Usual
from wetside_desk.store import class_plan, preferences
from wetside_desk.store.preferences import Preferences

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import desk_of
else:
    from desk_asking import desk_of

FILE = "one-reel-20.toml"
LAW = """
[step.development]
nominal_celsius = 20
lowest_celsius = 18
highest_celsius = 24
source = "teacher's own"
nominal_time = "7:00"
ten_degrees = 2.5
"""


def shipped(file: str = FILE) -> str:
    return (shipped_folder() / file).read_text(encoding="utf-8")


def with_coefficient() -> str:
    """The shipped sheet with a coefficient in place of its table."""
    text = shipped()
    cut, end = text.index("[step.development]"), text.index('[[step]]\nkind = "stop"')
    return text[:cut] + LAW.lstrip() + "\n" + text[end:]


def changed(text: str, **wanted: float) -> tuple[str, sheets.Sheet]:
    """The text and the sheet after a change."""
    usual = Usual(**wanted)  # type: ignore[arg-type]  # numbers alone are asked for here
    made = usual_edits.changed(text, sheets.parse(text, FILE), usual)
    return made, sheets.parse(made, FILE)


def comments(text: str) -> list[str]:
    return re.findall(r"#.*", text)


@pytest.mark.parametrize("text", [shipped(), with_coefficient()], ids=["table", "coefficient"])
@pytest.mark.parametrize(
    "wanted",
    [
        {"develop_seconds": 440.0},
        {"develop_seconds": 333.0},
        {"celsius": 21.0},
        {"celsius": 22.5},
        {"celsius": 21.0, "develop_seconds": 500.0},
    ],
    ids=str,
)
def test_step_and_law_stay_in_agreement(text: str, wanted: dict[str, float]) -> None:
    """Whatever of the two is changed, the sheet is a good one and all its comments are there."""
    made, sheet = changed(text, **wanted)
    assert wanted.get("celsius", 20.0) == sheet.temper.celsius == sheet.develop.celsius
    if "develop_seconds" in wanted:
        assert wanted["develop_seconds"] + 10 == sheet.develop.seconds
    assert comments(text) == comments(made)


def test_the_table_goes_along() -> None:
    """Ten percent more at the target are ten percent more in every row, as the teacher's own."""
    _, sheet = changed(shipped(), develop_seconds=462.0)
    law = sheet.develop.development
    assert law is not None
    assert (("20C", "7:42"), ("21C", "7:09"), ("22C", "6:36"), ("24C", "6:03")) == law.table
    assert "teacher's own, after Kodak F-32" == law.source


def test_another_target_takes_its_row() -> None:
    """At 22 °C the table has 6:00, and the source is as it was."""
    _, sheet = changed(shipped(), celsius=22.0)
    assert 370 == sheet.develop.seconds
    assert sheet.develop.development is not None
    assert "Kodak F-32" == sheet.develop.development.source


def test_a_target_without_a_time_is_refused() -> None:
    """Outside of what the law gives times for."""
    with pytest.raises(CannotChange, match="gives no time for it"):
        changed(shipped(), celsius=30.0)


def test_times_and_volume() -> None:
    """Fix and wash alone; the volume in each step that takes as much as the developer."""
    _, sheet = changed(shipped(), fix_seconds=400.0, wash_seconds=900.0, millilitres=500.0)
    seconds = {str(step.kind): step.seconds for step in sheet.step}
    assert (400, 900, 430) == (seconds["fix"], seconds["wash"], seconds["develop"])
    assert {500.0, None} == {step.volume_millilitres for step in sheet.step}


def send(client: TestClient, **fields: Any) -> Any:  # noqa: ANN401  # the client's own types
    """Fill the form of the sheet's page."""
    text = client.get(f"/sheets/{FILE}").text
    part = text[text.index('id="h-usual"') :]
    there = dict(re.findall(r'name="(\w+)" value="([^"]*)"', part[: part.index("</form>")]))
    return client.post(f"/sheets/{FILE}/usual", data={**there, **fields})


def test_the_form_keeps_a_sheet_of_the_school(client: TestClient) -> None:
    """7:20 from the full tank are 450 s of the step; the page says that it was kept."""
    answer = send(client, develop="7:20", volume="350")
    assert re.search(r"Kept at \d\d:\d\d\.", answer.text)
    made = sheets.load(desk_of(client).settings.files_folder / "sheets" / FILE)
    assert (450, 350) == (made.develop.seconds, made.temper.volume_millilitres)


def test_a_form_left_alone_makes_no_file(client: TestClient) -> None:
    """A shipped sheet is not copied by looking at it."""
    assert "Left as it was at" in send(client).text
    assert not (desk_of(client).settings.files_folder / "sheets").exists()


@pytest.mark.parametrize(
    ("field", "given", "says"),
    [
        ("develop", "450", "write minutes and seconds such as 6:45"),
        ("celsius", "30", "gives no time for it"),
        (
            "fix",
            "0:02",
            "<strong>Fix, from pouring in to the empty tank</strong>: must be greater",
        ),
        ("volume", "much", "<strong>Volume in the tank</strong>: "),
    ],
)
def test_what_cannot_be_stays_in_its_field(
    client: TestClient, field: str, given: str, says: str
) -> None:
    """Nothing is written; the reason stands above the form."""
    answer = send(client, **{field: given})
    assert 422 == answer.status_code
    assert says in answer.text
    assert f'name="{field}" value="{given}"' in answer.text
    assert not (desk_of(client).settings.files_folder / "sheets").exists()


def test_a_change_over_another_is_refused(client: TestClient) -> None:
    """A page that was opened before somebody else kept the sheet changes nothing."""
    text = client.get(f"/sheets/{FILE}").text
    seen = re.search(r'name="seen" value="([^"]*)"', text)
    assert seen is not None
    send(client, fix="6:00")
    answer = send(client, wash="9:00", seen=seen[1])
    assert 422 == answer.status_code
    assert "changed meanwhile" in answer.text


def test_name_and_title_say_the_new_target() -> None:
    """A run at 24 °C is not called one at 20; what is typed goes first."""
    _, sheet = changed(shipped(), celsius=24.0)
    assert ("one reel 24", "One reel of 135 film at 24 °C") == (sheet.name, sheet.title)
    made = usual_edits.changed(shipped(), sheet, Usual(celsius=22.5, name="warm", title="Warm"))
    assert {'name = "warm"', 'title = "Warm"'} <= set(made.splitlines())
    _, sheet = changed(shipped(), fix_seconds=400.0)
    assert "one reel 20" == sheet.name


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("one reel 20", "one reel 24"),
        ("two reels 68", "two reels 75.2"),
        ("20 exposures", "20 exposures"),
        ("reel 120", "reel 120"),
        ("school 20C fast", "school 24C fast"),
        ("sixteen long 68F", "sixteen long 68F"),
    ],
)
def test_a_name_follows_only_where_it_says_the_target(name: str, said: str) -> None:
    """With its unit, or as the number that ends it; where that fits the display."""
    assert said == naming.name_at(name, 20.0, 24.0)


def test_the_usual_sheet_stays_the_usual_one(client: TestClient) -> None:
    """When its name follows another target, the plan of the class follows too."""
    database = desk_of(client).database
    class_plan.save(database, class_plan.ClassPlan("one reel 20"))
    answer = send(client, celsius="24")
    assert "<h1>one reel 24</h1>" in answer.text
    assert "one reel 24" == class_plan.load(database).sheet


def test_what_makes_a_changed_sheet_doubtful_is_told_at_once(client: TestClient) -> None:
    """Baths four degrees colder, a time under five minutes, a target outside the table."""
    page = html.unescape(send(client, celsius="24").text)
    assert "stop is 4.0 °C colder than develop, 3.0 °C allowed: the emulsion may wrinkle" in page
    assert "the emulsion may wrinkle" in client.get("/sheets").text
    assert "3:30 is under 5:00" in send(client, develop="3:30").text
    assert "2.0 °C outside the table of" in send(client, celsius="18").text


def test_the_editor_tells_doubts_beside_problems(client: TestClient) -> None:
    """Where the text has no problem, on the page and at a look while somebody writes."""
    send(client, develop="3:30")
    page = client.get(f"/sheets/{FILE}/text").text
    assert "No mistake, but to be looked at:" in page
    assert "3:30 is under 5:00" in page
    text = shipped().replace("celsius = 20.0", "celsius = 16.5")
    headers = {"Content-Type": "application/toml"}
    for sent, good in ((shipped(), True), (text, False)):
        found = client.post(f"/v1/sheets/check?file={FILE}", content=sent, headers=headers).json()
        assert good is found["good"]
        assert [] == found["doubts"]
    path = desk_of(client).settings.files_folder / "sheets" / FILE
    sent = path.read_text(encoding="utf-8")
    found = client.post(f"/v1/sheets/check?file={FILE}", content=sent, headers=headers).json()
    assert ["3:30 is under 5:00" in one for one in found["doubts"]] == [True]


def test_a_refusal_speaks_in_the_teachers_unit(client: TestClient) -> None:
    """23 typed under a field in °F comes back as 23 °F, with the range in °F."""
    preferences.save(desk_of(client).database, Preferences(temperature="F"))
    answer = send(client, celsius="23")
    assert "23.0 °F is outside the useful range 64.4 to 77.0 °F of this sheet" in answer.text
    page = send(client, celsius="75.2").text
    assert "stop is 7.2 °F colder than develop, 5.4 °F allowed" in page
