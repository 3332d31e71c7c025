"""Pages of the shelf: the bottles, one bottle with its tests, which run went through which."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import timedelta
from functools import partial
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from wetside.development import shelf
from wetside.development.before_class import before_class
from wetside.development.bottles import Bottle, Colour, Holds, ShelfFile, Usage
from wetside.development.care import care
from wetside.development.clearing import judge_clearing
from wetside.development.figures import CLEARING_RATIO
from wetside.development.shelf import Standing
from wetside.development.testing import latest_check, latest_first, verdict
from wetside.errors import JournalError
from wetside.units import day_text, volumes_in
from wetside_desk import house, schooltime
from wetside_desk.access.gate import Sent, teacher
from wetside_desk.context import Desk, TheDesk
from wetside_desk.pages import bottle_form, forms, opened, told
from wetside_desk.pages.forms import Fields, text_of
from wetside_desk.pages.render import page
from wetside_desk.pages.runs import listed
from wetside_desk.problems import ProblemError
from wetside_desk.shelf import acts, ahead, lessons
from wetside_desk.store import class_plan, preferences, uses

router = APIRouter(include_in_schema=False, dependencies=[Depends(teacher)])

Words = Annotated[str, Query(max_length=40)]

#: Runs that ended longer ago are no more told as to be looked at: who poured what is forgotten.
LOOKED_AT_DAYS = 28

#: A number of tanks has no more figures.
_TANKS_FIGURES = 3


def shelf_page_of(
    request: Request,
    desk: Desk,
    template: str,
    status: int = 200,
    **values: Any,  # noqa: ANN401  # what a template is given is its own affair
) -> HTMLResponse:
    """A page that can write volumes in the teacher's unit."""
    unit = preferences.load(desk.database).volume
    return page(
        request,
        template,
        status,
        volume=forms.volume_in(unit),
        volumes=partial(volumes_in, unit=unit),
        quote=quote,
        **values,
    )


def listed_of(desk: Desk, runs: Sequence[uses.Ended]) -> dict[str, float]:
    """The time under which each run stands in lists; that of its end without a journal."""
    found = {ended.run: ended.ended for ended in runs}
    with suppress(JournalError):
        rows = [desk.reader.run(ended.run) for ended in runs]
        found |= {row.id: listed(row) for row in rows if row is not None}
    return found


def state_of(one: Standing) -> str:
    """Colour of a bottle's card: ``stop``, ``look`` or ``well``."""
    if not one.usable:
        return "stop"
    return "look" if one.notices else "well"


def left_share(one: Standing) -> float:
    """How much of a bottle is left, 0 to 1."""
    capacity = one.bottle.capacity_rolls
    if capacity is not None and one.left_rolls is not None:
        return min(1.0, one.left_rolls / capacity)
    return min(1.0, one.left_millilitres / one.bottle.millilitres)


def last_test(bottle: Bottle) -> str:
    """The latest test of a bottle in words; empty where there is none."""
    check = latest_check(bottle)
    if check is None:
        return ""
    what = "Tested" if check.colour is None else "Indicator"
    return f"{what} on {day_text(check.on)}: {verdict(bottle, check).text}."


@router.get("/shelf")
def shelf_page(
    request: Request, desk: TheDesk, sheet: Words = "", tanks: Words = ""
) -> HTMLResponse:
    """Every bottle, and what to know before the next class."""
    read = house.counted_shelf(desk)
    there = read.content or ShelfFile(format=1)
    found = house.current_uses(desk)
    now = schooltime.now()
    plan = class_plan.load(desk.database)
    table = house.bell_table(desk).content
    chosen = house.sheet_named(desk, sheet or plan.sheet) or house.sheet_named(desk, "")
    lesson = (
        None
        if table is None
        else ahead.ahead(table, now, chosen, house.handover(desk)[0], plan, desk.reader)
    )
    tanks = tanks.strip()
    count = int(tanks) if tanks.isdecimal() and len(tanks) <= _TANKS_FIGURES else None
    asked = bool(count)
    wrong = "" if count or not tanks else f"Tanks are a whole number from 1 to 999, not {tanks!r}."
    if count is None and lesson is not None:
        count = lesson.tanks
    day = lesson.coming.day if lesson is not None else now.date()
    warned = None
    if chosen is not None and count:
        unit = preferences.load(desk.database).volume
        warned = before_class(there, found, lessons.lesson(chosen, day, count, plan), unit)
    since = (now - timedelta(days=LOOKED_AT_DAYS)).timestamp()
    latest = uses.latest_ended(desk.database, 30)
    missing = [ended for ended in latest if ended.missing and ended.ended >= since]
    return shelf_page_of(
        request,
        desk,
        "shelf.html",
        read=read,
        bottles=shelf.standings(there, found, now.date()),
        state_of=state_of,
        last_test=last_test,
        left_share=left_share,
        care=care,
        today=now.date(),
        ahead=lesson,
        sheet=chosen,
        sheets=house.sheets(desk),
        tanks=count,
        warned=warned,
        missing=missing,
        looked_at_days=LOOKED_AT_DAYS,
        plan=plan,
        rolls_before=bottle_form.LABELS["rolls_before"],
        listed=listed_of(desk, missing),
        asked=asked,
        wrong=wrong,
        typed=tanks,
    )


def _bottle_page(
    request: Request,
    desk: Desk,
    bottle: Bottle | None,
    status: int = 200,
    *,
    wrong: list[tuple[str, str]] | None = None,
    entered: Mapping[str, str] | None = None,
    said: str = "",
) -> HTMLResponse:
    read = house.counted_shelf(desk)
    found = house.current_uses(desk)
    today = schooltime.now().date()
    standing = None if bottle is None else shelf.standing(bottle, found, today)
    stood = _stood(desk, bottle)
    unit = _unit(desk)
    labels = bottle_form.labels(unit)
    return shelf_page_of(
        request,
        desk,
        "bottle.html",
        status,
        bottle=bottle,
        standing=standing,
        tests=()
        if bottle is None
        else [(one, verdict(bottle, one)) for one in latest_first(bottle)],
        mine=[use for use in found if bottle is not None and use.bottle == bottle.label][::-1],
        seconds=_seconds(read.content, bottle),
        kinds=list(Holds),
        usages=list(Usage),
        colours=list(Colour),
        discard_at=CLEARING_RATIO.value,
        care=care,
        today=today,
        seen=read.written.tag,
        wrong=forms.worded(wrong or [], labels, _place(read.content, bottle)),
        labels=labels,
        figures=bottle_form.figures_of(unit),
        fields={**stood, **(entered or {})},
        opened=opened.carried(stood),
        said=said,
    )


def _place(there: ShelfFile | None, bottle: Bottle | None) -> str:
    """How the file calls a bottle, or the one that is to be the next in it."""
    bottles = () if there is None else there.bottle
    place = len(bottles) if bottle is None else bottles.index(bottle)
    return f"bottle[{place + 1}]"


def _seconds(there: ShelfFile | None, bottle: Bottle | None) -> list[Bottle]:
    """The bottles that may take the place of an exhausted bath 1."""
    if there is None or bottle is None or bottle.bath != 1:
        return []
    return [one for one in there.bottle if one.bath == 2]


@router.get("/shelf/new")
def new_bottle(request: Request, desk: TheDesk) -> HTMLResponse:
    """An empty form for a bottle."""
    return _bottle_page(request, desk, None)


def _page_of(label: str) -> str:
    return f"/shelf/bottles/{quote(label, safe='')}"


def _told(bottle: Bottle, written: str) -> str:
    """What the test that was just written down says; ``written`` is ``test`` or ``fresh``."""
    if written == "fresh" and bottle.fresh_clearing_seconds is not None:
        fresh = bottle.fresh_clearing_seconds
        return f"Written down: {judge_clearing(fresh, fresh).text}."
    if written == "test" and bottle.check:
        return f"Written down: {verdict(bottle, bottle.check[-1]).text}."
    return ""


@router.get("/shelf/bottles/{label}")
def bottle_page(request: Request, desk: TheDesk, label: str, written: Words = "") -> HTMLResponse:
    """One bottle: where it stands, its tests with the timer, its form."""
    bottle = acts.find(desk, label)[2]
    return _bottle_page(request, desk, bottle, said=_told(bottle, written))


def _unit(desk: Desk) -> str:
    return preferences.load(desk.database).volume


def _stood(desk: Desk, bottle: Bottle | None) -> dict[str, str]:
    return bottle_form.shown(bottle, _unit(desk), schooltime.now().date())


def _entered(form: Fields) -> dict[str, str]:
    return {name: text_of(form, name)[:200] for name in form}


@router.post("/shelf/new")
def put_bottle(request: Request, desk: TheDesk, who: Sent, form: Fields) -> Response:
    """One more bottle on the shelf."""
    try:
        values = bottle_form.values(form, _unit(desk), None)
        acts.put(desk, values, text_of(form, "seen"), who.name)
    except (forms.Wrong, ProblemError) as error:
        return _bottle_page(
            request,
            desk,
            None,
            422,
            wrong=forms.problems_of(error),
            entered=_entered(form),
        )
    return told.lead_to(desk, who, "/shelf")


@router.post("/shelf/bottles/{label}/change")
def change_bottle(request: Request, desk: TheDesk, who: Sent, form: Fields, label: str) -> Response:
    """Other values for a bottle."""
    read, _, bottle = acts.find(desk, label)
    stood = _stood(desk, bottle)
    mine = opened.changes(form, stood)
    try:
        house.still(read, text_of(form, "seen"))
        values = bottle_form.values(form, _unit(desk), mine)
        acts.change(desk, label, values, text_of(form, "seen"), who.name)
    except (forms.Wrong, ProblemError) as error:
        return _bottle_page(
            request,
            desk,
            bottle,
            422,
            wrong=opened.problems_of(error, form, mine, stood, bottle_form.labels(_unit(desk))),
            entered=mine,
        )
    return told.lead_to(desk, who, "/shelf")


@router.post("/shelf/bottles/{label}/test")
def test_bottle(request: Request, desk: TheDesk, who: Sent, form: Fields, label: str) -> Response:
    """A clearing time from the timer, or a colour."""
    reader = forms.Reader(form)
    seconds, colour = reader.seconds("clearing_seconds"), reader.text("colour")
    fresh = text_of(form, "fresh") == "yes"
    try:
        reader.done()
        _check_test(seconds, colour)
        acts.note_test(
            desk,
            label,
            schooltime.now().date(),
            who.name,
            clearing_seconds=None if seconds is None else float(seconds),
            colour=None if colour is None else Colour(colour),
            fresh=fresh,
        )
    except (forms.Wrong, ProblemError) as error:
        return _bottle_page(
            request,
            desk,
            acts.find(desk, label)[2],
            422,
            wrong=forms.problems_of(error),
            entered=_entered(form),
        )
    written = "fresh" if fresh and seconds is not None else "test"
    return RedirectResponse(f"{_page_of(label)}?written={written}", status_code=303)


def _check_test(seconds: float | None, colour: str | None) -> None:
    if (seconds is None) == (colour is None):
        raise forms.Wrong([("check", "a test has either a time or a colour")])
    if colour is not None and colour not in set(Colour):
        raise forms.Wrong([("colour", f"{colour!r} is not a colour of an indicator")])


@router.post("/shelf/bottles/{label}/renew")
def renew_bottle(request: Request, desk: TheDesk, who: Sent, form: Fields, label: str) -> Response:
    """The bottle was emptied and mixed anew."""
    reader = forms.Reader(form)
    on = reader.day("mixed_on") or schooltime.now().date()
    reader.sure()
    try:
        reader.done()
        acts.mix_anew(desk, label, on, who.name)
    except (forms.Wrong, ProblemError) as error:
        return _bottle_page(
            request, desk, acts.find(desk, label)[2], 422, wrong=forms.problems_of(error)
        )
    return told.lead_to(desk, who, "/shelf")


@router.post("/shelf/bottles/{label}/move-up")
def move_up(request: Request, desk: TheDesk, who: Sent, form: Fields, label: str) -> Response:
    """Bath 2 becomes bath 1; this bottle holds new fixer as bath 2."""
    reader = forms.Reader(form)
    on = reader.day("mixed_on") or schooltime.now().date()
    reader.sure()
    try:
        reader.done()
        acts.move_up(desk, label, text_of(form, "bath_2"), on, who.name)
    except (forms.Wrong, ProblemError) as error:
        return _bottle_page(
            request, desk, acts.find(desk, label)[2], 422, wrong=forms.problems_of(error)
        )
    return told.lead_to(desk, who, "/shelf")


@router.post("/shelf/bottles/{label}/take")
def take_bottle(request: Request, desk: TheDesk, who: Sent, form: Fields, label: str) -> Response:
    """Take a bottle off the shelf."""
    reader = forms.Reader(form)
    reader.sure()
    try:
        reader.done()
        acts.take(desk, label, text_of(form, "seen"), who.name)
    except (forms.Wrong, ProblemError) as error:
        return _bottle_page(
            request, desk, acts.find(desk, label)[2], 422, wrong=forms.problems_of(error)
        )
    return told.lead_to(desk, who, "/shelf", "Taken off the shelf")
