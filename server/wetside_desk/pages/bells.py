"""Pages of the bells: today, when to begin, what the sinks hold, the table and its forms."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import HTMLResponse, Response

from wetside.development.bells import Bells, Period, Weekday
from wetside.session.bell import AHEAD
from wetside_desk import house, live, schooltime
from wetside_desk.access.gate import Sent, teacher
from wetside_desk.bells import timing
from wetside_desk.context import Desk, TheDesk
from wetside_desk.digest import FEWEST_RUNS
from wetside_desk.files import edits, papers
from wetside_desk.files.edits import Value
from wetside_desk.pages import forms, opened, text_editor, told
from wetside_desk.pages.forms import Fields, text_of, texts_of
from wetside_desk.pages.render import page
from wetside_desk.problems import ProblemError
from wetside_desk.store import audit, class_plan

router = APIRouter(include_in_schema=False, dependencies=[Depends(teacher)])

#: What people read beside each field, and what a message calls it.
LABELS = {
    "name": "Its name",
    "days": "Days",
    "weeks": "Only in weeks",
    "starts": "Begins",
    "ends": "Its bell",
    "group": "Group",
    "students": "Students",
    "clear_up_minutes": "Minutes for clearing up before the bell",
    "closed": "Days without school",
    "names": "Weeks that alternate",
    "first_week_of": "A day in a week of the first name",
}

Words = Annotated[str, Query(max_length=40)]

#: A start longer ago is not meant: film of that run hangs.
_PAST_START = timedelta(hours=2)

#: A number of students has no more figures.
_STUDENTS_FIGURES = 3


def _weeks(table: Bells, today: date) -> list[dict[str, Any]]:
    """For each week name the days with their periods, the present week first."""
    monday = timing.monday_of(today)
    count = len(table.weeks.names) if table.weeks is not None else 1
    found = []
    for ahead in range(count):
        first = monday + timedelta(days=7 * ahead)
        days = [first + timedelta(days=one) for one in range(7)]
        shown = [day for place, day in enumerate(days) if place < 5 or table.on(day)]
        found.append(
            {
                "name": table.weeks.name_of(first) if table.weeks is not None else "",
                "now": ahead == 0,
                "busy": any(table.on(day) for day in shown),
                "days": [
                    (
                        day,
                        [(table.period.index(one) + 1, one) for one in table.on(day)],
                        day in table.closed,
                    )
                    for day in shown
                ],
            }
        )
    return found


@router.get("/bells")
def bells_page(
    request: Request, desk: TheDesk, sheet: Words = "", students: Words = "", begin: Words = ""
) -> HTMLResponse:
    """Everything that follows from the table."""
    return _bells_page(request, desk, sheet, students, begin)


def _bells_page(
    request: Request,
    desk: Desk,
    sheet: str = "",
    students: str = "",
    begin: str = "",
    *,
    status: int = 200,
    room: Mapping[str, str] | None = None,
    room_wrong: Sequence[forms.Refused] = (),
    typed: Mapping[str, str] | None = None,
    table_wrong: Sequence[forms.Refused] = (),
    gone: Sequence[forms.Refused] = (),
) -> HTMLResponse:
    """The page.

    ``room`` is what was typed about the room where ``room_wrong`` refuses it, ``typed`` about weeks
    and days where ``table_wrong`` does. ``gone`` is said of a period that stands there no more.
    """
    read = house.bell_table(desk)
    table, now = read.content, schooltime.now()
    plan = class_plan.load(desk.database)
    stood, room_stood = _table_fields(table), class_plan.shown(plan)
    sheets = house.sheets(desk)
    chosen = house.sheet_named(desk, sheet or plan.sheet) or house.sheet_named(desk, "")
    handover, learnt = house.handover(desk)
    station = live.read(desk.settings.live_file)
    students = students.strip()
    good = students.isdecimal() and len(students) <= _STUDENTS_FIGURES
    wrong = f"Students are a whole number from 0 to 999, not {students!r}."
    values: dict[str, Any] = {"students_wrong": "" if good or not students else wrong}
    if table is not None:
        coming = timing.next_class(table, now)
        count = int(students) if good else None
        if count is None:
            count = coming.period.students if coming is not None else 0
        values |= {
            "today": table.on(now.date()),
            "current": table.current(now),
            "starts": timing.starts(table, now, sheets, handover),
            "weeks": _weeks(table, now.date()),
            "coming": coming,
            "students": count,
            "holds": (
                timing.holds(table, coming.period, chosen, handover, plan, count)
                if coming is not None and chosen is not None
                else None
            ),
            "rounds": lambda starts: "" if coming is None else rounds(coming, starts, now),
            "at_sink": _at_sink(desk, table, now),
            "day_of": lambda when: day_of(when, now),
            "left": timing.leaving(chosen) if chosen is not None else (),
            "when": start_at(begin, now),
        }
        bell = table.bell_after(values["when"])
        values["bell"] = bell
        values["at_bell"] = (
            timing.at_bell(chosen, handover, values["when"], bell)
            if chosen is not None and bell is not None
            else None
        )
    return page(
        request,
        "bells.html",
        status,
        read=read,
        table=table,
        labels=LABELS,
        now=now,
        plan=plan,
        room={**room_stood, **(room or {})},
        room_opened=opened.carried(room_stood),
        room_labels=class_plan.LABELS,
        room_wrong=room_wrong,
        fields={**stood, **(typed or {})},
        opened=opened.carried(stood),
        table_wrong=table_wrong,
        gone=gone,
        sheets=sheets,
        sheet=chosen,
        handover=handover,
        learnt=learnt,
        doubt=schooltime.doubt(station),
        few=FEWEST_RUNS,
        **values,
    )


def _table_fields(table: Bells | None) -> dict[str, str]:
    """What stands in the form of weeks, days without school and clearing up."""
    weeks = table.weeks if table is not None else None
    return {
        "clear_up_minutes": f"{table.clear_up_minutes:g}" if table is not None else "",
        "names": " ".join(weeks.names) if weeks is not None else "",
        "first_week_of": f"{weeks.first_week_of}" if weeks is not None else "",
        "closed": " ".join(f"{day}" for day in table.closed) if table is not None else "",
    }


def rounds(coming: timing.Coming, starts: Sequence[float], now: datetime) -> str:
    """When the rounds of a period begin, those that are past told apart.

    ``starts`` are seconds after the bell that opens it.
    """
    times = [coming.starts + timedelta(seconds=seconds) for seconds in starts]
    parts = []
    for some, one, many in (
        ([at for at in times if at < now], "One round was to begin", "Rounds were to begin"),
        ([at for at in times if at >= now], "One round begins", "Rounds begin"),
    ):
        if some:
            listed = ", ".join(f"{at:%H:%M}" for at in some)
            parts.append(f"{one if len(some) == 1 else many} at {listed}.")
    return " ".join(parts)


def day_of(when: datetime, now: datetime) -> str:
    """The day of a moment to be said behind its clock; empty where it is today."""
    return "" if when.date() == now.date() else f" on {when:%A}"


def start_at(begin: str, now: datetime) -> datetime:
    """The moment that a start such as ``00:10`` means; now where it is no time of day.

    A time of today that is long past is one of tomorrow.
    """
    try:
        clock = time.fromisoformat(begin).replace(tzinfo=None)
    except ValueError:
        return now
    earliest = now - _PAST_START
    found = datetime.combine(earliest.date(), clock)
    return found if found >= earliest else found + timedelta(days=1)


def _at_sink(desk: Desk, table: Bells, now: datetime) -> tuple[str, str] | None:
    """The sheet that tempers now and what its run looks like against the bell, if one is near."""
    found = house.at_sink(desk)
    if found is None:
        return None
    sheet, ready = found
    limit = timing.starts(table, now, [sheet], house.handover(desk)[0])[0].limit
    if limit is None or limit.bell - now > AHEAD:
        return None
    return sheet.name, timing.verdict(limit, now, ready).text


@router.post("/bells/room")
def save_room(request: Request, desk: TheDesk, who: Sent, form: Fields) -> Response:
    """What a class usually is in this room."""
    stood = class_plan.shown(class_plan.load(desk.database))
    mine = opened.changes(form, stood)
    wrong = opened.overtaken_told(form, mine, stood, class_plan.LABELS)
    plan = class_plan.ClassPlan()
    try:
        plan = class_plan.changed({**stood, **mine})
    except ValueError as error:
        says = f"{error}."
        field = next((name for name, label in class_plan.LABELS.items() if label in says), "")
        wrong = [forms.Refused("", says, field)]
    if wrong:
        return _bells_page(request, desk, status=422, room=mine, room_wrong=wrong)
    class_plan.save(desk.database, plan, mine)
    audit.add(desk.database, who.name, "room saved")
    return told.lead_to(desk, who, "/bells#h-room")


def _form_page(
    request: Request,
    desk: Desk,
    place: int,
    status: int = 200,
    *,
    wrong: list[tuple[str, str]] | None = None,
    entered: Mapping[str, str] | None = None,
) -> HTMLResponse:
    read = house.bell_table(desk)
    period = None
    periods = read.content.period if read.content is not None else ()
    here = f"period[{place or len(periods) + 1}]"
    if place and read.content is not None:
        if not 1 <= place <= len(read.content.period):
            raise ProblemError("not-found", f"The bell table has no period[{place}].")
        period = read.content.period[place - 1]
    stood = _period_fields(period)
    return page(
        request,
        "period.html",
        status,
        place=place,
        period=period,
        table=read.content,
        weekdays=list(Weekday),
        seen=read.written.tag,
        wrong=forms.worded(wrong or [], LABELS, here),
        labels=LABELS,
        fields={**stood, **(entered or {})},
        opened=opened.carried(stood),
    )


def _period_fields(period: Period | None) -> dict[str, str]:
    """What stands in the form of a period; boxes that are ticked with a space between."""
    if period is None:
        return dict.fromkeys(("name", "days", "weeks", "starts", "ends", "group", "students"), "")
    return {
        "name": period.name,
        "days": " ".join(day for day in Weekday if day in period.days),
        "weeks": " ".join(sorted(period.weeks)),
        "starts": f"{period.starts:%H:%M}",
        "ends": f"{period.ends:%H:%M}",
        "group": period.group,
        "students": str(period.students or ""),
    }


@router.get("/bells/periods/{place}")
def period_page(request: Request, desk: TheDesk, place: int) -> HTMLResponse:
    """One period in a form; 0 is a new one."""
    return _form_page(request, desk, place)


def _period(form: Fields) -> dict[str, Value]:
    reader = forms.Reader(form)
    values = forms.given(
        name=reader.text("name"),
        days=texts_of(form, "days"),
        weeks=texts_of(form, "weeks") or None,
        starts=reader.clock("starts"),
        ends=reader.clock("ends"),
        group=reader.text("group"),
        students=reader.number("students"),
    )
    reader.done()
    return values


@router.post("/bells/periods/{place}")
def save_period(request: Request, desk: TheDesk, who: Sent, form: Fields, place: int) -> Response:
    """Keep a period, or take it away."""
    read = house.bell_table(desk)
    text, seen = read.written.text or edits.EMPTY, text_of(form, "seen")
    there = read.content.period if read.content is not None else ()
    late = read.written.tag != seen
    if late and place:
        place = _place_now(form, there)
    stood = _period_fields(there[place - 1] if 0 < place <= len(there) else None)
    taken = text_of(form, "take") == "yes"
    mine = {} if taken else opened.changes(form, stood, ("days", "weeks"))
    if place < 0:
        return _bells_page(request, desk, status=422, gone=_gone(mine))
    reader = forms.Reader(form)
    try:
        house.still(read, seen)
        if taken:
            reader.sure()
            reader.done()
            text = edits.take(text, "period", place)
        elif place:
            values = _period(form)
            text = edits.change(text, "period", place, {name: values[name] for name in mine})
        else:
            text = edits.add(text, "period", _period(form))
        house.write(desk, read.paper, text, seen, who.name)
    except (forms.Wrong, ProblemError, edits.CannotEdit) as error:
        problems = opened.problems_of(error, form, mine, stood, LABELS)
        return _form_page(request, desk, place, 422, wrong=problems, entered=mine)
    return told.lead_to(desk, who, "/bells#h-table", "Taken away" if taken else "Kept")


def _place_now(form: Fields, there: Sequence[Period]) -> int:
    """Where the period that a late form was opened with stands now; -1 where it does no more."""
    was = opened.of(form)
    places = [at for at, one in enumerate(there, start=1) if _period_fields(one) == was]
    return places[0] if places else -1


def _gone(mine: Mapping[str, str]) -> list[forms.Refused]:
    """What is said where the period of a late form was changed or taken away."""
    says = "The table was changed meanwhile, and that period does not stand in it as you saw it."
    changed = ", ".join(f"“{LABELS[name]}” {text or 'empty'}" for name, text in mine.items())
    typed = f" You had changed in it: {changed}." if changed else ""
    return [forms.Refused("", f"{says} Nothing was changed; open it again in the table.{typed}")]


@router.post("/bells/table")
def save_table(request: Request, desk: TheDesk, who: Sent, form: Fields) -> Response:
    """Clear-up time, alternating weeks, days without school."""
    read = house.bell_table(desk)
    stood, seen = _table_fields(read.content), text_of(form, "seen")
    mine = opened.changes(form, stood)
    reader = forms.Reader(form)
    minutes, closed = reader.number("clear_up_minutes"), reader.days("closed")
    names, first = text_of(form, "names").split(), reader.day("first_week_of")
    try:
        house.still(read, seen)
        reader.done()
        values = forms.given(clear_up_minutes=minutes, closed=closed)
        text = edits.set_keys(
            read.written.text, {name: values[name] for name in values if name in mine}
        )
        if "names" in mine or "first_week_of" in mine:
            weeks = forms.given(names=names, first_week_of=first) if names or first else None
            text = edits.set_table(text, "weeks", weeks)
        house.write(desk, read.paper, text, seen, who.name)
    except (forms.Wrong, ProblemError, edits.CannotEdit) as error:
        return _bells_page(
            request,
            desk,
            status=422,
            typed=mine,
            table_wrong=forms.worded(
                opened.problems_of(error, form, mine, stood, LABELS), LABELS, ""
            ),
        )
    return told.lead_to(desk, who, "/bells#h-table")


def _editor(desk: Desk) -> text_editor.Editor:
    return text_editor.Editor(
        papers.bell_table(desk.settings.files_folder),
        "The bell table as text",
        "/bells/text",
        "/v1/bells/check",
        "/bells",
        "Every key is explained in the page about bells (docs/bells.md).",
    )


@router.get("/bells/text")
def text_page(request: Request, desk: TheDesk, version: text_editor.Number = 0) -> HTMLResponse:
    """The bell table in the editor."""
    editor = _editor(desk)
    return text_editor.opened(request, desk, editor, papers.shown(editor.paper), version)


@router.post("/bells/text")
def save_text(request: Request, desk: TheDesk, who: Sent, form: Fields) -> Response:
    """Keep the bell table."""
    text = str(form.get("text", ""))
    return text_editor.save(request, desk, _editor(desk), text, text_of(form, "seen"), who)
