"""More about the shelf: mixing, washing, what a week takes, runs and their bottles, the file."""

from contextlib import suppress
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse, Response

from wetside.development import mixing, wash
from wetside.development.bottles import Holds, ShelfFile
from wetside.development.care import care
from wetside.development.mixing import Measures
from wetside.errors import JournalError, UnitsError
from wetside.outlook import Wall
from wetside_desk import house, schooltime
from wetside_desk.access.gate import Sent, teacher
from wetside_desk.bells import timing
from wetside_desk.context import Desk, TheDesk
from wetside_desk.files import papers
from wetside_desk.pages import forms, text_editor, told
from wetside_desk.pages.forms import Fields, text_of
from wetside_desk.pages.shelf import listed_of, shelf_page_of
from wetside_desk.shelf import correcting, lessons
from wetside_desk.store import class_plan, preferences, uses

router = APIRouter(include_in_schema=False, dependencies=[Depends(teacher)])

Words = Annotated[str, Query(max_length=40)]

#: What the forms begin with, by the teacher's unit: a volume to mix, a tank to wash in.
_USUAL = {"mL": ("1 L", "500 mL"), "fl oz": ("32 fl oz", "16 fl oz")}

#: Tanks for more rolls by hand are not made (common practice).
MOST_ROLLS = 8
#: Gelatine softens in water that is warmer (common practice).
WARMEST_WASH_CELSIUS = 40.0

#: Runs on the page that says which run went through which bottle.
_RUNS = 60


@dataclass(frozen=True, slots=True)
class Mixed:
    """What to measure, None of a powder, and the steps in their order."""

    total: float
    amounts: Measures | None
    steps: tuple[str, ...]


@router.get("/shelf/mixing")
def mixing_page(
    request: Request,
    desk: TheDesk,
    holds: Words = "fixer",
    strength: Words = "1+4",
    total: Words = "",
    tank: Words = "",
    rolls: Words = "1",
    water: Words = "",
    *,
    powder: bool = False,
) -> HTMLResponse:
    """Parts of a dilution, volumes of tanks, and a wash, each from a small form."""
    prefs = preferences.load(desk.database)
    usual_total, usual_tank = _USUAL[prefs.volume]
    total, tank = total or usual_total, tank or usual_tank
    wrong: list[str] = []
    kind = Holds(holds) if holds in set(Holds) else Holds.FIXER
    mixed = _mixed(kind, strength, total, prefs.volume, wrong, powder=powder)
    count = int(rolls) if rolls.isdecimal() and 1 <= int(rolls) <= MOST_ROLLS else 1
    if rolls != str(count):
        wrong.append(f"{rolls!r}: a tank holds 1 to {MOST_ROLLS} rolls.")
    plan, cold, celsius = None, None, None
    try:
        plan = wash.plan(float(count), forms.millilitres_of(tank, prefs.volume))
        celsius = forms.celsius_of(water, prefs.temperature) if water else None
        if celsius is not None and not 0.0 < celsius <= WARMEST_WASH_CELSIUS:
            wrong.append(f"{water!r}: no film is washed in water of {celsius:.0f} °C; C or F?")
            celsius = None
        cold = None if celsius is None else wash.cold_factor(celsius)
    except (UnitsError, ValueError) as error:
        wrong.append(str(error))
    stock = None
    if mixed is not None and mixed.amounts is not None and kind is Holds.DEVELOPER:
        parts = mixing.Dilution.parse(strength)
        stock = mixing.rolls_of_stock(mixed.total, parts, prefs.volume)
    return shelf_page_of(
        request,
        desk,
        "mixing.html",
        422 if wrong else 200,
        wrong=wrong,
        kinds=list(Holds),
        kind=kind,
        strength=strength,
        total=total,
        powder=powder,
        mixed=mixed,
        stock=stock,
        care=care(kind),
        tanks=[
            (wall, wide, mixing.tank_millilitres(wall, wide=wide))
            for wall in (Wall.STEEL, Wall.PLASTIC)
            for wide in (False, True)
        ],
        tank=tank,
        rolls=count,
        water=water,
        water_celsius=celsius,
        plan=plan,
        cold=cold,
    )


def _mixed(
    kind: Holds, strength: str, total: str, unit: str, wrong: list[str], *, powder: bool
) -> Mixed | None:
    try:
        millilitres = forms.millilitres_of(total, unit)
        if powder:
            return Mixed(millilitres, None, mixing.from_powder(millilitres, unit))
        amounts = mixing.measures(millilitres, mixing.Dilution.parse(strength))
    except UnitsError as error:
        wrong.append(str(error))
        return None
    acid = kind is Holds.STOP
    steps = mixing.instructions(amounts, acid=acid, unit=unit)
    return Mixed(millilitres, amounts, steps)


@router.get("/shelf/week")
def week_page(request: Request, desk: TheDesk, sheet: Words = "", day: Words = "") -> HTMLResponse:
    """What the classes of a week take of each solution."""
    today = schooltime.now().date()
    try:
        on = date.fromisoformat(day) if day else today
    except ValueError:
        on = today
    if not papers.FIRST_DAY <= on <= papers.LAST_DAY:
        on = today
    plan = class_plan.load(desk.database)
    chosen = house.sheet_named(desk, sheet or plan.sheet) or house.sheet_named(desk, "")
    table = house.bell_table(desk).content
    classes = () if table is None else timing.classes_of_week(table, on)
    there = house.counted_shelf(desk).content or ShelfFile(format=1)
    monday = timing.monday_of(on)
    return shelf_page_of(
        request,
        desk,
        "week.html",
        table=table,
        sheet=chosen,
        sheets=house.sheets(desk),
        classes=classes,
        plan=plan,
        tanks_of=lessons.tanks_of,
        stock=() if chosen is None else lessons.week(there, chosen, classes, plan),
        monday=monday,
        before=monday - timedelta(days=7),
        after=monday + timedelta(days=7),
    )


@router.get("/shelf/runs")
def runs_page(request: Request, desk: TheDesk) -> HTMLResponse:
    """Which of the latest runs went through which bottle, to be put right where it is wrong."""
    there = house.counted_shelf(desk).content or ShelfFile(format=1)
    latest = uses.latest_ended(desk.database, _RUNS)
    went = uses.of_runs(desk.database, [ended.run for ended in latest])
    holds = {bottle.label: bottle.holds for bottle in there.bottle}
    lacking: dict[str, tuple[correcting.Lack, ...]] = {}
    with suppress(JournalError):  # what is on record is shown without a journal too
        for run in went:
            lacking[run] = correcting.lacking(desk, there, run, went[run])
    return shelf_page_of(
        request,
        desk,
        "shelf_runs.html",
        latest=latest,
        listed=listed_of(desk, latest),
        went=went,
        lacking=lacking,
        holds=holds,
        bottles=there.bottle,
        most=_RUNS,
    )


@router.post("/shelf/runs/move")
def move_use(desk: TheDesk, who: Sent, form: Fields) -> Response:
    """A run went through another bottle than was counted, through none, or (no old) through one."""
    run, old, new = text_of(form, "run"), text_of(form, "old"), text_of(form, "new")
    if new and not old:
        correcting.add(desk, run, new)
    else:
        correcting.move(desk, run, old, new)
    return told.lead_to(desk, who, "/shelf/runs")


def _editor(desk: Desk) -> text_editor.Editor:
    return text_editor.Editor(
        papers.shelf(desk.settings.files_folder),
        "The shelf as text",
        "/shelf/text",
        "/v1/shelf/check",
        "/shelf",
        "Every key is explained in the page about solutions (docs/chemistry.md).",
    )


@router.get("/shelf/text")
def text_page(request: Request, desk: TheDesk, version: text_editor.Number = 0) -> HTMLResponse:
    """The shelf file in the editor."""
    editor = _editor(desk)
    return text_editor.opened(request, desk, editor, papers.shown(editor.paper), version)


@router.post("/shelf/text")
def save_text(request: Request, desk: TheDesk, who: Sent, form: Fields) -> Response:
    """Keep the shelf file."""
    text = str(form.get("text", ""))
    answer = text_editor.save(request, desk, _editor(desk), text, text_of(form, "seen"), who)
    house.counted_shelf(desk)
    return answer
