"""Reading and writing quantities with their units.

Inside wetside every temperature is in degrees Celsius, every time in seconds, every volume
in millilitres, and the name says so. Text from people is turned into these here, at the edge.
"""

from __future__ import annotations

import re
from datetime import date

from wetside.errors import UnitsError

_PLAIN = r"[+-]?\d+(?:[.,]\d+)?"
_NUMBER = re.compile(_PLAIN)
_QUANTITY = re.compile(rf"\s*({_PLAIN})\s*([A-Za-z °]*)\s*")

#: A comma that some write between thousands and others before thousandths.
_THOUSANDS = re.compile(r"([+-]?[1-9]\d{0,2}),(\d{3})")

#: Millilitres in one US fluid ounce (NIST Handbook 44, appendix C, from memory).
MILLILITRES_PER_FLUID_OUNCE = 29.5735295625
#: Litres in one US liquid quart.
LITRES_PER_QUART = 32.0 * MILLILITRES_PER_FLUID_OUNCE / 1000.0

#: Specific heat of water (OpenStax College Physics m42224).
WATER_J_PER_KG_K = 4186.0

_VOLUMES = {
    "ml": 1.0,
    "l": 1000.0,
    "cl": 10.0,
    "floz": MILLILITRES_PER_FLUID_OUNCE,
    "qt": 1000.0 * LITRES_PER_QUART,
    "gal": 128.0 * MILLILITRES_PER_FLUID_OUNCE,
}


def parse_number(text: str) -> float:
    """Read a number such as ``20``, ``0.5`` or, with a decimal comma, ``0,5``.

    Raises
    ------
    UnitsError
        Not a number, or one such as ``1,000``: a thousand to some and one to others.
    """
    plain = text.strip()
    if _NUMBER.fullmatch(plain) is None:
        raise UnitsError(f"{plain!r} is not a number")
    read_twice = _THOUSANDS.fullmatch(plain)
    if read_twice is not None:
        whole, rest = read_twice.groups()
        exact = f"{whole}.{rest.rstrip('0') or '0'}"
        raise UnitsError(
            f"{plain!r}: a comma before three digits is read in two ways; "
            f"write {whole}{rest} or {exact}"
        )
    return float(plain.replace(",", "."))


def _split(text: str, what: str) -> tuple[float, str]:
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise UnitsError(f"{text!r} is not a {what}")
    return parse_number(match[1]), match[2].replace(" ", "").replace("°", "").lower()


def fahrenheit_to_celsius(fahrenheit: float) -> float:
    """Temperature on the Celsius scale."""
    return (fahrenheit - 32.0) / 1.8


def celsius_to_fahrenheit(celsius: float) -> float:
    """Temperature on the Fahrenheit scale."""
    return celsius * 1.8 + 32.0


def parse_celsius(text: str) -> float:
    """Read a temperature such as ``24.0C``, ``75.2F`` or ``24`` (Celsius).

    Raises
    ------
    UnitsError
        The text is not a number with ``C``, ``F`` or nothing behind it.
    """
    number, unit = _split(text, "temperature; write for example 24.0C or 75.2F")
    if unit in {"", "c"}:
        return number
    if unit == "f":
        return fahrenheit_to_celsius(number)
    raise UnitsError(f"{text!r}: a temperature ends in C or F, for example 24.0C")


def parse_celsius_difference(text: str) -> float:
    """Read a tolerance such as ``0.3C`` or ``0.5F``: a difference, so 1.8 F make 1 C.

    Raises
    ------
    UnitsError
        Not a number with ``C``, ``F`` or nothing behind it, or below zero.
    """
    number, unit = _split(text, "tolerance; write for example 0.3C or 0.5F")
    if unit not in {"", "c", "f"}:
        raise UnitsError(f"{text!r}: a tolerance ends in C or F, for example 0.3C")
    if number < 0:
        raise UnitsError(f"{text!r}: a tolerance is not below zero")
    return number / 1.8 if unit == "f" else number


def parse_millilitres(text: str) -> float:
    """Read a volume such as ``300mL``, ``0.5L``, ``10floz`` or ``300`` (millilitres).

    Raises
    ------
    UnitsError
        Not a number with a known unit behind it, or not above zero.
    """
    number, unit = _split(text, "volume; write for example 300mL")
    try:
        millilitres = number * _VOLUMES[unit or "ml"]
    except KeyError:
        raise UnitsError(f"{text!r}: a volume ends in mL, cL, L, floz, qt or gal") from None
    if millilitres <= 0:
        raise UnitsError(f"{text!r}: a volume is above zero")
    return millilitres


def volume_text(millilitres: float, unit: str = "mL") -> str:
    """A volume to three digits: in ``mL`` (from one litre on in ``L``), or in ``fl oz``.

    Examples
    --------
    >>> volume_text(237.0), volume_text(1500.0), volume_text(1500.0, "fl oz")
    ('237 mL', '1.5 L', '50.7 fl oz')
    """
    value = millilitres
    if unit == "fl oz":
        value /= MILLILITRES_PER_FLUID_OUNCE
    elif round(millilitres) >= 1000:
        value, unit = millilitres / 1000.0, "L"
    # three digits of thousands would be written with an exponent
    return f"{value:.0f} {unit}" if round(value) >= 1000 else f"{value:.3g} {unit}"


_VOLUME = re.compile(r"(\d+(?:\.\d+)?) (mL|L|fl oz)\b")


def volumes_in(sentence: str, unit: str) -> str:
    """A sentence with its volumes in the unit that people read, ``mL`` or ``fl oz``.

    Examples
    --------
    >>> volumes_in("Fixer 1 holds 1.2 L, 300 mL are missing", "fl oz")
    'Fixer 1 holds 40.6 fl oz, 10.1 fl oz are missing'
    """
    return _VOLUME.sub(lambda match: volume_text(parse_millilitres(match[0]), unit), sentence)


def clock_text(seconds: float) -> str:
    """Whole seconds as ``m:ss``, ``h:mm:ss`` from one hour on; below zero with a minus sign.

    Examples
    --------
    >>> clock_text(402.4)
    '6:42'
    """
    whole = round(seconds)
    sign, whole = ("-", -whole) if whole < 0 else ("", whole)
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{sign}{minutes}:{rest:02d}"
    hours, minutes = divmod(minutes, 60)
    return f"{sign}{hours}:{minutes:02d}:{rest:02d}"


def day_text(day: date) -> str:
    """A day as people write it, such as ``25 Nov 2026``."""
    return f"{day.day} {day:%b %Y}"


#: Temperatures in a sentence of the core, which always speaks of degrees Celsius, and how far
#: apart two are.
_CELSIUS = re.compile(
    r"(-?\d+(?:\.\d+)?)(?: to (-?\d+(?:\.\d+)?))? (?:degC|°C)(?: \(sd (\d+(?:\.\d+)?)\))?"
)
_APART = re.compile(r"(\d+(?:\.\d+)?) degrees")


def in_unit(sentence: str, *, fahrenheit: bool = False) -> str:
    """A sentence of the core for people, its temperatures in the unit that they read.

    Examples
    --------
    >>> in_unit("taken as 21.0 degC (sd 2.0)"), in_unit("18.0 to 25.0 degC", fahrenheit=True)
    ('taken as 21.0 °C, give or take 2.0 °C', '64.4 to 77.0 °F')
    >>> in_unit("23.0 degC is 1.0 degrees outside", fahrenheit=True)
    '73.4 °F is 1.8 °F outside'
    """
    sign = "°F" if fahrenheit else "°C"

    def number(celsius: str, value: float) -> str:
        return f"{value:.{len(celsius.partition('.')[2])}f}"

    def warm(celsius: str) -> str:
        value = float(celsius)
        return number(celsius, celsius_to_fahrenheit(value) if fahrenheit else value)

    def apart(celsius: str) -> str:
        return f"{number(celsius, float(celsius) * (1.8 if fahrenheit else 1.0))} {sign}"

    def shown(match: re.Match[str]) -> str:
        low, high, sd = match.groups()
        said = warm(low) if high is None else f"{warm(low)} to {warm(high)}"
        return f"{said} {sign}" + ("" if sd is None else f", give or take {apart(sd)}")

    return _APART.sub(lambda match: apart(match[1]), _CELSIUS.sub(shown, sentence))
