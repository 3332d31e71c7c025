"""Settings that the station takes up at the next roll: tones, the display's unit, tolerances."""

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from wetside.errors import FileProblem, UnitsError
from wetside.units import in_unit, parse_number
from wetside_desk import house
from wetside_desk.access.gate import Sent, teacher
from wetside_desk.context import TheDesk
from wetside_desk.files import edits, papers, sheet_acts
from wetside_desk.files.edits import CannotEdit
from wetside_desk.pages import forms, told
from wetside_desk.pages.forms import Fields, text_of
from wetside_desk.pages.settings import settings_page_of
from wetside_desk.problems import ProblemError
from wetside_desk.store import preferences

router = APIRouter(include_in_schema=False, dependencies=[Depends(teacher)])

_FAHRENHEIT = {"": None, "C": False, "F": True}


def _said(error: Exception) -> str:
    return "; ".join(f"{key}: {why}" if key else why for key, why in forms.problems_of(error))


@router.post("/settings/sink")
def choose_sink(request: Request, desk: TheDesk, who: Sent, form: Fields) -> Response:
    """Keep the tones and the display's unit."""
    paper = papers.sink(desk.settings.files_folder)
    try:
        text = edits.set_keys(
            papers.read(paper).text, {"fahrenheit": _FAHRENHEIT.get(text_of(form, "fahrenheit"))}
        )
        text = edits.set_table(
            text,
            "tones",
            {
                "agitation": text_of(form, "agitation") or "full",
                "calm": text_of(form, "calm") == "on",
                "pitch": text_of(form, "pitch") or "usual",
            },
        )
        house.write(desk, paper, text, text_of(form, "seen"), who.name)
    except (CannotEdit, FileProblem, ProblemError) as error:
        return settings_page_of(request, desk, 422, at="sink", wrong=_said(error))
    return told.lead_to(desk, who, "/settings#sink")


@router.post("/settings/tolerance")
def set_tolerance(request: Request, desk: TheDesk, who: Sent, form: Fields) -> Response:
    """Change the tolerance of one sheet."""
    given, file = text_of(form, "tolerance")[:80], text_of(form, "file")

    def refused(wrong: str) -> Response:
        typed = {"tolerance": given, "file": file}
        return settings_page_of(request, desk, 422, at="tolerance", wrong=wrong, typed=typed)

    try:
        value = parse_number(given)
    except UnitsError as error:
        return refused(f"{error}; degrees, such as 0.5.")
    unit = preferences.load(desk.database).temperature
    whole = 1.8 if unit == "F" else 1.0
    value /= whole
    if not 0.0 < value <= sheet_acts.WIDEST_CELSIUS:
        most = f"{sheet_acts.WIDEST_CELSIUS * whole:g} °{unit}"
        wrong = f"Not kept, {given!r}: a tolerance is above zero, at most {most}."
        if value > 0.0:
            off = sheet_acts.off_words(sheet_acts.WIDEST_CELSIUS)
            wrong += f" {in_unit(off, fahrenheit=unit == 'F')}"
        return refused(wrong)
    try:
        sheet_acts.set_tolerance(desk, file, round(value, 3), who.name)
    except ProblemError as error:
        return refused(_said(error))
    return told.lead_to(desk, who, "/settings#tolerance")
