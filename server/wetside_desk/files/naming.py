"""What a sheet is called when its target becomes another: the temperature in its words. Pure."""

from __future__ import annotations

import re

from wetside.units import celsius_to_fahrenheit

#: Words with their unit, such as ``20 °C``.
_WARM = re.compile(r"(?<![\d.,])(\d+(?:[.,]\d+)?)( ?°? ?)([CF])\b")
#: A number that ends a name, such as that of ``one reel 20``.
_LAST = re.compile(r"(?<![^ -])\d+(?:\.\d+)?$")

#: A name fits one line of the display.
_LONGEST_NAME = 16
#: A temperature in words is rounded to so much.
_SAME = 0.06


def _in(celsius: float, unit: str) -> float:
    return celsius_to_fahrenheit(celsius) if unit == "F" else celsius


def title_at(title: str, before: float, after: float) -> str:
    """A title that says the target ``before`` with ``after`` in its place, both in Celsius.

    Examples
    --------
    >>> title_at("One reel at 20 °C (68 °F), 36 exposures", 20.0, 24.0)
    'One reel at 24 °C (75.2 °F), 36 exposures'
    """

    def said(match: re.Match[str]) -> str:
        number, between, unit = match.groups()
        if abs(float(number.replace(",", ".")) - _in(before, unit)) > _SAME:
            return match[0]
        return f"{round(_in(after, unit), 1):g}{between}{unit}"

    return _WARM.sub(said, title)


def name_at(name: str, before: float, after: float) -> str:
    """A name that says the target, or ends with its number; as it was where it would be too long.

    Examples
    --------
    >>> name_at("one reel 20", 20.0, 24.0), name_at("two reels 68", 20.0, 24.0)
    ('one reel 24', 'two reels 75.2')
    """
    found = title_at(name, before, after)
    last = _LAST.search(name)
    if found == name and last is not None:
        for unit in "CF":
            if abs(float(last[0]) - _in(before, unit)) <= _SAME:
                found = f"{name[: last.start()]}{round(_in(after, unit), 1):g}"
    return found if len(found) <= _LONGEST_NAME else name
