"""The shelf over the API: bottles, their tests, uses, mixing and what a class needs."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from pydantic import BeforeValidator

from wetside.development import mixing, shelf, wash
from wetside.development.before_class import before_class as notices_before
from wetside.development.bottles import Holds, ShelfFile
from wetside.errors import UnitsError
from wetside.session.sheet import Sheet
from wetside.units import parse_celsius, parse_millilitres
from wetside_desk import house, schooltime
from wetside_desk.access.gate import teacher
from wetside_desk.api import answers, asked, changing
from wetside_desk.api import shelf_models as models
from wetside_desk.api.changing import Changer
from wetside_desk.bells import timing
from wetside_desk.context import Desk, TheDesk
from wetside_desk.files import papers
from wetside_desk.problems import ProblemError
from wetside_desk.shelf import acts, lessons
from wetside_desk.store import class_plan, preferences

router = APIRouter(
    prefix="/v1/shelf",
    tags=["shelf"],
    dependencies=[Depends(teacher), Depends(asked.known)],
    responses=answers.documented("not-signed-in", "invalid-request", "internal-error"),
)

EXAMPLE = """\
format = 1

[[bottle]]
label = "Fixer 1"
holds = "fixer"
strength = "1+4"
millilitres = 2000
mixed_on = 2031-09-01
use = "reused"
rolls_per_litre = 20
fresh_clearing_seconds = 40
"""

Label = Annotated[str, Path(max_length=16, examples=["Fixer 1"])]
SheetName = Annotated[
    str,
    Query(
        max_length=16,
        description="name of a sheet; the usual one if left out",
        examples=["one reel 20"],
    ),
]
Day = Annotated[
    date | None,
    BeforeValidator(models.written_day),
    Query(
        description="today if left out",
        examples=["2031-09-08"],
        ge=papers.FIRST_DAY,
        le=papers.LAST_DAY,
    ),
]


def usual_sheet(desk: Desk, name: str) -> Sheet:
    """The sheet that is asked for, or the usual one.

    Raises
    ------
    ProblemError
        There is none of that name.
    """
    found = house.sheet_named(desk, name or class_plan.load(desk.database).sheet)
    if found is None and not name:
        found = house.sheet_named(desk, "")
    if found is None:
        raise ProblemError("sheet-not-found", f"There is no sheet called {name!r}.")
    return found


@router.get("", response_model=models.ShelfAnswer, summary="The bottles in use")
def show_shelf(request: Request, desk: TheDesk, on: Day = None) -> Response:
    """Every bottle with what is left, its age, its tests, warnings, cautions and disposal.

    Runs that ended meanwhile are counted before the answer is made.
    """
    day = on or schooltime.now().date()
    read = house.counted_shelf(desk)
    there = read.content
    found = () if there is None else shelf.standings(there, house.current_uses(desk), day)
    body = models.ShelfAnswer(
        on=day,
        file=models.FileState.of(read),
        bottles=[models.BottleAnswer.of(one) for one in found],
    )
    tag = answers.tag_of(body.model_dump_json())
    return answers.not_modified(request, tag) or answers.tagged(body, tag)


changing.file_routes(router, papers.shelf, "shelf", "There is no shelf file yet.", EXAMPLE)


@router.post(
    "/bottles/{label}/tests",
    response_model=models.BottleAnswer,
    status_code=201,
    summary="Write down a test of a bottle",
    responses={
        **changing.CHANGING,
        **answers.documented("bottle-not-found", "file-refused", "changed-meanwhile"),
    },
)
def add_test(
    desk: TheDesk, who: Changer, label: Label, test: models.NewTest
) -> models.BottleAnswer:
    """A clearing time (twice that of the fresh bath: discard), or a stop bath's colour.

    A clearing time is measured with the film and at the temperature of the fresh test.
    """
    today = schooltime.now().date()
    if (test.clearing_seconds is None) == (test.colour is None):
        raise ProblemError("invalid-request", "A test has either clearing_seconds or colour.")
    bottle = acts.note_test(
        desk,
        label,
        today,
        who.name,
        clearing_seconds=test.clearing_seconds,
        colour=test.colour,
        fresh=test.fresh,
    )
    return models.BottleAnswer.of(shelf.standing(bottle, house.current_uses(desk), today))


@router.post(
    "/bottles/{label}/fillings",
    response_model=models.BottleAnswer,
    status_code=201,
    summary="A bottle was mixed anew",
    responses={
        **changing.CHANGING,
        **answers.documented("bottle-not-found", "file-refused", "changed-meanwhile"),
    },
)
def fill(desk: TheDesk, who: Changer, label: Label, filling: models.Renewed) -> models.BottleAnswer:
    """Counting begins anew; tests and uses of the filling before stay on record only."""
    bottle = acts.mix_anew(desk, label, filling.mixed_on, who.name)
    today = schooltime.now().date()
    return models.BottleAnswer.of(shelf.standing(bottle, house.current_uses(desk), today))


@router.post(
    "/bottles/{label}/moves",
    response_model=models.MovedAnswer,
    status_code=201,
    summary="Bath 2 becomes bath 1",
    responses={
        **changing.CHANGING,
        **answers.documented("bottle-not-found", "file-refused", "changed-meanwhile"),
    },
)
def move_up(desk: TheDesk, who: Changer, label: Label, moved: models.Moved) -> models.MovedAnswer:
    """The named bath 1 was exhausted and emptied; it holds new fixer and is bath 2 from now on."""
    first, second = acts.move_up(desk, label, moved.bath_2, moved.mixed_on, who.name)
    today, found = schooltime.now().date(), house.current_uses(desk)
    return models.MovedAnswer(
        bath_1=models.BottleAnswer.of(shelf.standing(first, found, today)),
        bath_2=models.BottleAnswer.of(shelf.standing(second, found, today)),
    )


@router.get("/uses", response_model=models.UseList, summary="Which run went through which bottle")
def list_uses(
    request: Request,
    desk: TheDesk,
    limit: Annotated[int, Query(ge=1, le=500, examples=[100])] = 100,
) -> Response:
    """Each finished or given-up run once for every bottle, latest first."""
    house.counted_shelf(desk)
    latest = house.current_uses(desk)[::-1][:limit]
    body = models.UseList(uses=[models.UseAnswer.of(use) for use in latest])
    tag = answers.tag_of(body.model_dump_json())
    return answers.not_modified(request, tag) or answers.tagged(body, tag)


@router.get(
    "/class",
    summary="What to know before a class",
    responses=answers.documented("sheet-not-found"),
)
def before_class(
    desk: TheDesk,
    tanks: Annotated[int, Query(ge=0, le=200, examples=[9])],
    sheet: SheetName = "",
    on: Day = None,
) -> models.ClassAnswer:
    """The class is played through tank by tank with the rules that count its runs."""
    day = on or schooltime.now().date()
    chosen = usual_sheet(desk, sheet)
    there = house.counted_shelf(desk).content or ShelfFile(format=1)
    planned = lessons.lesson(chosen, day, tanks, class_plan.load(desk.database))
    unit = preferences.load(desk.database).volume
    notices = notices_before(there, house.current_uses(desk), planned, unit)
    return models.ClassAnswer(
        on=day,
        sheet=chosen.name,
        tanks=tanks,
        notices=[models.NoticeAnswer.of(notice) for notice in notices],
    )


@router.get("/mixing", summary="Parts of a dilution")
def mix(
    desk: TheDesk,
    total: Annotated[
        str, Query(max_length=20, examples=["2L"], description="mL, cL, L, floz, qt or gal")
    ],
    strength: Annotated[str, Query(max_length=20, examples=["1+4"])],
    holds: Annotated[
        Holds, Query(description="stop bath brings the order acid into water", examples=["fixer"])
    ],
    *,
    powder: Annotated[
        bool, Query(description="a powder for the whole packet", examples=[False])
    ] = False,
) -> models.MixingAnswer:
    """What to measure and in which order. Acid goes into the water, never the reverse.

    The numbers are in millilitres; the steps speak in the unit that the teacher chose. Of a powder
    there is nothing to measure but the packet: it makes the stock.
    """
    unit = preferences.load(desk.database).volume
    try:
        millilitres = parse_millilitres(total)
        if powder:
            return models.MixingAnswer(
                total_millilitres=millilitres,
                strength="stock",
                concentrate_millilitres=[],
                water_millilitres=0.0,
                steps=list(mixing.from_powder(millilitres, unit)),
            )
        amounts = mixing.measures(millilitres, mixing.Dilution.parse(strength))
    except UnitsError as error:
        raise ProblemError("invalid-request", f"{error}.") from error
    return models.MixingAnswer(
        total_millilitres=millilitres,
        strength=strength,
        concentrate_millilitres=list(amounts.concentrates),
        water_millilitres=amounts.water,
        steps=list(mixing.instructions(amounts, acid=holds is Holds.STOP, unit=unit)),
    )


@router.get(
    "/week",
    summary="How much stock a week of classes takes",
    responses=answers.documented("sheet-not-found"),
)
def week(desk: TheDesk, sheet: SheetName = "", day: Day = None) -> models.WeekAnswer:
    """From the bell table's classes in the week of a day, each student's tank counted."""
    chosen = usual_sheet(desk, sheet)
    on = day or schooltime.now().date()
    table = house.bell_table(desk).content
    classes = () if table is None else timing.classes_of_week(table, on)
    there = house.counted_shelf(desk).content or ShelfFile(format=1)
    found = lessons.week(there, chosen, classes, class_plan.load(desk.database))
    return models.WeekAnswer(
        monday=timing.monday_of(on),
        sheet=chosen.name,
        classes=len(classes),
        stock=[models.StockAnswer.of(stock) for stock in found],
    )


@router.get("/wash", summary="A wash by full changes of water")
def plan_wash(
    tank: Annotated[str, Query(max_length=20, examples=["500mL"], description="a full tank")],
    rolls: Annotated[int, Query(ge=1, le=8, examples=[2])] = 1,
    water: Annotated[str, Query(max_length=20, examples=["12C", "54F"])] = "20C",
) -> models.WashAnswer:
    """Changes of water until no more stays than ISO 18901 allows, one change more than that."""
    try:
        plan = wash.plan(float(rolls), parse_millilitres(tank))
        cold = wash.cold_factor(parse_celsius(water))
    except (UnitsError, ValueError) as error:
        raise ProblemError("invalid-request", f"{error}.") from error
    if plan is None:
        raise ProblemError("invalid-request", "No number of changes is enough in that tank.")
    return models.WashAnswer.of(plan, cold)
