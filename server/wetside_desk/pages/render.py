"""Templates to pages. Everything that a page loads comes from this device."""

from functools import lru_cache
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from wetside_desk import __version__, formats
from wetside_desk.pages import words

#: Looks that a reader can choose; auto follows the device's light or dark.
THEMES = ("auto", "light", "dark", "safelight")


#: Pages in the head of every page: address and name.
NAV = (("/", "Runs"), ("/live", "Now"))


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
    made.globals["version"] = __version__
    made.globals["themes"] = THEMES
    made.filters["state"] = words.state
    made.filters["step"] = words.step
    made.filters["event"] = words.event
    made.filters["flag"] = words.flag
    made.filters["duration"] = words.duration
    made.filters["over"] = words.over
    made.filters["utc"] = formats.iso_utc
    made.filters["day"] = words.day
    made.filters["clock"] = words.clock
    made.filters["celsius"] = words.celsius
    return made


def theme_of(request: Request) -> str:
    """The look that this reader chose."""
    theme = request.cookies.get("theme", "auto")
    return theme if theme in THEMES else "auto"


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:  # noqa: ANN401  # what a template is given is its own affair
    """Render a page."""
    text = (
        environment()
        .get_template(template)
        .render(path=request.url.path, theme=theme_of(request), nav=NAV, **values)
    )
    return HTMLResponse(text, status_code=status, headers={"Cache-Control": "no-store"})
