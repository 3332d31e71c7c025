"""Horizontal bars as SVG; each bar carries its number, so no axis is needed.

A bar of a page may lead to what it counts; a picture that stands alone leads nowhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

#: A row is high enough for a thumb on a narrow phone.
_WIDTH, _ROW = 420, 34
#: Width of one character of the names, on the safe side, and the most that names may take.
_CHARACTER, _NAMES = 8.3, 235
_HEAD = 26
_BAR = 20


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar; ``of`` is what ``value`` is a part of, shown behind it; ``href`` where it leads."""

    name: str
    value: float
    of: float | None = None
    says: str = ""
    href: str = ""


def _fitting(name: str) -> str:
    most = int(_NAMES / _CHARACTER)
    return name if len(name) <= most else f"{name[: most - 1]}\N{HORIZONTAL ELLIPSIS}"


def draw(title: str, bars: Sequence[Bar], *, headed: bool = False) -> str:
    """The bars as one SVG element, in the given order.

    Names and numbers get the room that the longest one needs. ``headed``: with the title in the
    picture, for a picture that stands alone.
    """
    most = max([bar.of if bar.of is not None else bar.value for bar in bars], default=0) or 1.0
    names = [_fitting(bar.name) for bar in bars]
    begin = round(max([len(name) for name in names], default=0) * _CHARACTER) + 12
    numbers = [bar.says or f"{bar.value:g}" for bar in bars]
    number_room = round(max([len(text) for text in numbers], default=0) * _CHARACTER) + 12
    room = _WIDTH - begin - number_room
    head = _HEAD if headed else 0
    height = max(len(bars), 1) * _ROW + 4 + head
    linked = not headed and any(bar.href for bar in bars)
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="bars" '
            f'viewBox="0 0 {_WIDTH} {height}" {_spoken(title, bars, numbers, linked=linked)}'
        )
    ]
    if headed:
        parts.append(f'<text x="4" y="17" font-weight="600">{escape(title)}</text>')
    for number, (bar, name) in enumerate(zip(bars, names, strict=True)):
        top = number * _ROW + 4 + head
        drawn = []
        if bar.of is not None:
            drawn.append(
                f'<rect class="p-rest" x="{begin}" y="{top}" width="{bar.of / most * room:.1f}" '
                f'height="{_BAR}" fill="#ddd5c6"/>'
            )
        drawn.append(
            f'<rect class="p-bar" x="{begin}" y="{top}" width="{bar.value / most * room:.1f}" '
            f'height="{_BAR}" fill="#9a3412"/>'
            f'<text class="p-text" x="{begin - 8}" y="{top + 14}" text-anchor="end" '
            f'fill="#5d564c">{escape(name)}</text>'
            f'<text class="p-text" x="{_WIDTH - number_room + 8}" y="{top + 14}" fill="#5d564c">'
            f"{escape(numbers[number])}</text>"
        )
        if linked and bar.href:
            label = escape(f"{bar.name}: {numbers[number]}")
            drawn.insert(
                0,
                f'<a href="{escape(bar.href)}" aria-label="{label}"><rect y="{top - 4}" '
                f'width="{_WIDTH}" height="{_ROW}" fill="none" pointer-events="all"/>',
            )
            drawn.append("</a>")
        parts += drawn
    parts.append("</svg>")
    return "".join(parts)


def _spoken(title: str, bars: Sequence[Bar], numbers: Sequence[str], *, linked: bool) -> str:
    """The rest of the first tag, and what is read aloud: one picture, or a group of links."""
    font = 'font-family="system-ui, sans-serif" font-size="14">'
    if linked:
        return f'role="group" aria-label="{escape(title)}" {font}'
    said = "; ".join(f"{bar.name}: {text}" for bar, text in zip(bars, numbers, strict=True))
    return f'role="img" {font}<title>{escape(title)}. {escape(said)}</title>'
