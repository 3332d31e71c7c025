"""Templates to pages. Everything that a page loads comes from this device."""

from contextlib import suppress
from functools import lru_cache
from typing import Any
from urllib.parse import urlsplit

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from wetside.errors import JournalError
from wetside.units import day_text, in_unit
from wetside_desk import __version__, formats
from wetside_desk.access.gate import Who
from wetside_desk.pages import telling, told, words
from wetside_desk.store import preferences
from wetside_desk.store.notes import OUTCOMES

#: Looks that a reader can choose; auto follows the device's light or dark.
THEMES = ("auto", "light", "dark", "safelight")

#: Pages in the head of every page: address and name.
NAV_TEACHER = (
    ("/", "Runs"),
    ("/live", "Now"),
    ("/summary", "Summary"),
    ("/shelf", "Shelf"),
    ("/bells", "Bells"),
    ("/sheets", "Sheets"),
    ("/station", "Station"),
    ("/settings", "Settings"),
)
NAV_OPEN = (("/live", "Now"), ("/sign-in", "Sign in"))


@lru_cache(maxsize=1)
def environment() -> Environment:
    """The templates' environment: escaping everywhere, unknown names are errors."""
    made = Environment(
        loader=PackageLoader("wetside_desk"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(version=__version__, themes=THEMES, outcomes=OUTCOMES)
    made.filters.update(
        state=words.state,
        step=words.step,
        event=words.event,
        flag=words.flag,
        duration=words.duration,
        over=words.over,
        against=words.against,
        utc=formats.iso_utc,
        detail=telling.detail,
        day=words.day,
        clock=words.clock,
        short_day=day_text,
        short_date=words.short_date,
        trouble=words.trouble,
    )
    return made


def theme_of(request: Request) -> str:
    """The look that this reader chose."""
    theme = request.cookies.get("theme", "auto")
    return theme if theme in THEMES else "auto"


def _back(request: Request) -> str:
    """Where a choice of the look leads back to; a form's own address shows nothing by itself."""
    if request.method in {"GET", "HEAD"}:
        return here(request)
    return came_from(request)


def here(request: Request) -> str:
    """The page that is asked for, as an address inside this desk."""
    return _inside(request.url.path, request.url.query)


def came_from(request: Request) -> str:
    """The page of this device on which a form was sent, as far as the browser tells."""
    try:
        page = urlsplit(request.headers.get("referer", ""))
    except ValueError:
        return "/"
    return _inside(page.path or "/", page.query)


def _inside(path: str, query: str) -> str:
    return f"{path}?{query}" if query else path


def page(
    request: Request,
    template: str,
    status: int = 200,
    *,
    who: Who | None = None,
    **values: Any,  # noqa: ANN401  # what a template is given is its own affair
) -> HTMLResponse:
    """Render a page.

    Every template knows ``who`` asks (None = nobody known), the preferences ``prefs``,
    ``celsius``, which writes a temperature in the unit that the teacher chose, ``in_unit``, which
    does so in a sentence, and ``told``,
    what the form before was answered with. ``who`` is given where this request only makes the
    session. Where the desk's own file cannot be read, nobody is known.
    """
    desk = request.app.state.desk
    with suppress(JournalError):
        who = who or desk.gate.who(request)
    prefs = preferences.known(desk.database)
    text = (
        environment()
        .get_template(template)
        .render(
            path=request.url.path,
            status=status,
            look_back=_back(request),
            theme=theme_of(request),
            nav=NAV_TEACHER if who else NAV_OPEN,
            who=who,
            told=told.said_here(request, desk, who),
            prefs=prefs,
            degrees=lambda value: formats.degrees(value, prefs.temperature),
            celsius=lambda value: words.temperature(value, prefs.temperature),
            in_unit=lambda said: in_unit(said, fahrenheit=prefs.temperature == "F"),
            **values,
        )
    )
    return HTMLResponse(text, status_code=status, headers={"Cache-Control": "no-store"})
