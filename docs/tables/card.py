"""The tones on the student's card, from the catalogue, in docs/card.md and docs/card.html.

python docs/tables/card.py
"""

from __future__ import annotations

from pathlib import Path

from wetside.cues import catalogue
from wetside.cues.rhythm import signs_of
from wetside.cues.tones import Tone
from wetside.session.signals import CueName

DOCS = Path(__file__).parents[1]
BEGIN = "<!-- tones: written by docs/tables/card.py -->\n"
END = "<!-- tones: end -->\n"

#: What a student has to know by ear, in the words of the card.
TONES = {
    CueName.READY: "ready: pour the developer in",
    CueName.AGITATE: "agitate",
    CueName.REST: "rest: put the tank down",
    CueName.PREPARE_NEXT: "get the next thing ready",
    CueName.DRAIN: "pour out",
    CueName.NEXT_NOW: "pour the next one in, press now",
    CueName.LATE: "you are late",
    CueName.PROBE_LOST: "the probe gives no reading",
    CueName.FINISHED: "done: hang the film",
}

_PIXELS_PER_SECOND = 34.0
_LOWEST_HERTZ, _HIGHEST_HERTZ = 1200.0, 2700.0


def rows() -> str:
    """The tones as a table of Markdown."""
    lines = "".join(
        f"| `{signs_of(catalogue.row(name).tone)}` | {words} |\n" for name, words in TONES.items()
    )
    return f"\n| tone | it means |\n|---|---|\n{lines}\n"


def drawn(tone: Tone) -> str:
    """A tone as SVG: a bar for each note, long as it sounds, high as it is."""
    bars, at = [], 0.0
    for note in tone.notes * tone.times:
        if note.hertz is not None:
            above = (note.hertz - _LOWEST_HERTZ) / (_HIGHEST_HERTZ - _LOWEST_HERTZ)
            bars.append(
                f'<rect x="{at * _PIXELS_PER_SECOND:.1f}" y="{1 + 8 * (1 - above):.1f}" '
                f'width="{note.seconds * _PIXELS_PER_SECOND:.1f}" height="4" rx="1"/>'
            )
        at += note.seconds
    width = at * _PIXELS_PER_SECOND
    return (
        f'<svg class="tone" role="img" aria-label="{signs_of(tone)}" width="{width:.0f}" '
        f'height="14" viewBox="0 0 {width:.1f} 14">{"".join(bars)}</svg>'
    )


def cells() -> str:
    """The tones as rows of a table of HTML."""
    return "".join(
        f"<tr><td>{drawn(catalogue.row(name).tone)}</td><td>{words}</td></tr>\n"
        for name, words in TONES.items()
    )


def renewed(page: str, tones: str) -> str:
    """A page with its tones written anew."""
    head, rest = page.split(BEGIN, 1)
    return f"{head}{BEGIN}{tones}{END}{rest.split(END, 1)[1]}"


def main() -> None:
    """Write both pages anew."""
    for name, tones in (("card.md", rows()), ("card.html", cells())):
        page = DOCS / name
        page.write_text(renewed(page.read_text(encoding="utf-8"), tones), encoding="utf-8")


if __name__ == "__main__":
    main()
