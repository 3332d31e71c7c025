"""Horizontal bars as SVG; each bar carries its number, so no axis is needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

_WIDTH, _NAME, _ROW, _NUMBER = 420, 165, 28, 70


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar; ``of`` is what ``value`` is a part of, shown behind it."""

    name: str
    value: float
    of: float | None = None
    says: str = ""


def draw(title: str, bars: Sequence[Bar]) -> str:
    """The bars as one SVG element, in the given order."""
    most = max([bar.of if bar.of is not None else bar.value for bar in bars], default=0) or 1.0
    room = _WIDTH - _NAME - _NUMBER
    height = max(len(bars), 1) * _ROW + 4
    said = "; ".join(f"{bar.name}: {bar.says or f'{bar.value:g}'}" for bar in bars)
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="bars" '
            f'viewBox="0 0 {_WIDTH} {height}" role="img" font-family="system-ui, sans-serif" '
            f'font-size="13"><title>{escape(title)}. {escape(said)}</title>'
        )
    ]
    for number, bar in enumerate(bars):
        top = number * _ROW + 4
        if bar.of is not None:
            parts.append(
                f'<rect class="p-rest" x="{_NAME}" y="{top}" width="{bar.of / most * room:.1f}" '
                f'height="{_ROW - 8}" fill="#ddd5c6"/>'
            )
        parts.append(
            f'<rect class="p-bar" x="{_NAME}" y="{top}" width="{bar.value / most * room:.1f}" '
            f'height="{_ROW - 8}" fill="#9a3412"/>'
            f'<text class="p-text" x="{_NAME - 8}" y="{top + 14}" text-anchor="end" '
            f'fill="#5d564c">{escape(bar.name)}</text>'
            f'<text class="p-text" x="{_WIDTH - _NUMBER + 8}" y="{top + 14}" fill="#5d564c">'
            f"{escape(bar.says or f'{bar.value:g}')}</text>"
        )
    parts.append("</svg>")
    return "".join(parts)
