"""The usual changes of a sheet, made in a form: what belongs together changes together."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import pytest

from wetside.session import sheet as sheets
from wetside.session.sheet import shipped_folder
from wetside_desk.files import usual_edits
from wetside_desk.files.usual_edits import CannotChange, Usual

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
    made = usual_edits.changed(text, sheets.parse(text, FILE), Usual(**wanted))
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
