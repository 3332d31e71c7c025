"""``wetside calibrate``: correct a probe by melting ice and one thermometer."""

import math
import re
import time
from collections.abc import Sequence
from datetime import date
from typing import Annotated

import typer

from wetside import wholefile
from wetside.commands.calibrate import entry
from wetside.commands.options import USUAL_SETTINGS, SettingsFile, settings_of
from wetside.devices.ds18b20 import Answer, Bus
from wetside.errors import UnitsError
from wetside.settings import StationSettings
from wetside.thermal import calibration
from wetside.thermal.calibration import Calibration
from wetside.units import parse_celsius, parse_celsius_difference

#: Readings of a point are taken this many times.
READINGS = 10
#: A thermometer less sure than the probe's own data sheet, or surer than any in a school.
_WITHIN_CELSIUS = (0.01, 0.5)
_REFERENCE_CELSIUS = (10.0, 60.0)

_ROM = re.compile(r"(?:28-)?([0-9a-f]{12})")

ICE = (
    "Melting ice: crushed ice of clean water to the brim, cold water just to fill the gaps.\n"
    "The probe's tip in the middle, 5 cm deep, five minutes, stirred. The ice is no food after."
)
REFERENCE = (
    "Reference: a litre of water near the temperature of your developer. Probe and thermometer\n"
    "side by side, tips at one depth, stirred for a minute. No mains device at the sink."
)


def calibrate(
    probe: Annotated[
        str | None, typer.Argument(help="Its name or ROM id; not needed where only one answers.")
    ] = None,
    settings_file: SettingsFile = USUAL_SETTINGS,
    thermometer: Annotated[
        str | None, typer.Option(help="What the thermometer shows: 20.00C; else it is asked.")
    ] = None,
    within: Annotated[
        str, typer.Option(help="What the thermometer's paper promises, either way.")
    ] = "0.1C",
    ice_read: Annotated[
        str | None, typer.Option(help="What the probe read in ice, if noted before: 0.25C")
    ] = None,
    reference_read: Annotated[
        str | None, typer.Option(help="What it read beside the thermometer: 20.31C")
    ] = None,
    name: Annotated[str, typer.Option(help="Name of a probe that has none yet.")] = "probe",
    every: Annotated[float, typer.Option(min=0, max=60, help="Seconds between readings.")] = 2.0,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show it, write nothing.")] = False,
) -> None:
    """Correct a probe by melting ice and one reference thermometer.

    It says what to do, reads the probe, and writes slope, offset, uncertainty and day into the
    settings. Everything else in the file stays as it is. Start the station anew afterwards.

    \b
    Examples:
      wetside calibrate
      wetside calibrate probe --thermometer 20.00C --within 0.1C --dry-run
      wetside calibrate --ice-read 0.25C --reference-read 20.31C --thermometer 20.00C

    Exit codes: 0 done, 1 the probe does not answer or the points are no calibration, 2 settings
    or options are wrong.
    """  # noqa: D301  # \b keeps the lines of the help as they are
    loaded = settings_of(settings_file)
    try:
        reference_sd = _reference_sd(within)
        noted = [None if one is None else parse_celsius(one) for one in (ice_read, reference_read)]
        shows = None if thermometer is None else _shown(thermometer)
    except UnitsError as problem:
        typer.echo(str(problem), err=True)
        raise typer.Exit(2) from None
    try:
        bus = Bus(loaded.w1_folder, loaded.probe)
        listed = None if None in noted else _listed(loaded, probe)
        rom, called = listed or _which(bus, loaded, probe)
        ice = calibration.ice_point(_readings(bus, rom, noted[0], ICE, every))
        read = _readings(bus, rom, noted[1], REFERENCE, every)
        if shows is None:
            shows = _shown(typer.prompt("The thermometer shows, corrected by its paper"))
        line = calibration.calibrate(ice, calibration.reference_point(read, shows, reference_sd))
        text = entry.corrected_text(
            entry.text_of(settings_file), settings_file, rom, called or name, line, _today()
        )
        _report(called or name, rom, line, shows)
        if dry_run:
            print("Nothing is written.")
            return
        wholefile.replace(settings_file.resolve(), text)  # a link stays a link
    except (ValueError, OSError) as problem:
        typer.echo(f"not calibrated: {problem}", err=True)
        raise typer.Exit(1) from None
    print(f"{settings_file} is written. Start the station anew: it corrects from then on.")


def _today() -> date:
    return date.today()  # noqa: DTZ011  # the day on the wall of this room


def _reference_sd(within: str) -> float:
    """Standard deviation, K, of what a paper promises: even between its ends, as for a probe."""
    celsius = parse_celsius_difference(within)
    low, high = _WITHIN_CELSIUS
    if not low <= celsius <= high:
        raise UnitsError(
            f"--within {within}: a thermometer good to {low:g} to {high:g} C is needed; "
            "a worse one is no reference for a probe that its maker promises to 0.5 C"
        )
    return celsius / math.sqrt(3.0)


def _shown(text: str) -> float:
    celsius = parse_celsius(text)
    low, high = _REFERENCE_CELSIUS
    if not low <= celsius <= high:
        raise UnitsError(
            f"{text}: the reference lies between {low:g} and {high:g} C, near your developer"
        )
    return celsius


def _listed(loaded: StationSettings, wanted: str | None) -> tuple[str, str | None] | None:
    """A probe of the settings, or of the ROM id that was typed.

    It need not be plugged in where all its readings are noted.
    """
    found = [one for one in loaded.probe if wanted in {None, one.name, one.rom, f"28-{one.rom}"}]
    if len(found) == 1:
        return found[0].rom, found[0].name
    typed = None if wanted is None else _ROM.fullmatch(wanted.lower())
    return None if typed is None else (typed[1], None)


def _which(bus: Bus, loaded: StationSettings, wanted: str | None) -> tuple[str, str | None]:
    """ROM id of the probe that is meant, and its name if the settings give one."""
    names = {one.rom: one.name for one in loaded.probe}
    found = [answer for answer in bus.read() if answer.celsius is not None]
    if wanted is not None:
        rom = wanted.lower().removeprefix("28-")
        found = [one for one in found if rom == one.rom or wanted == one.probe]
    if len(found) == 1:
        return found[0].rom, names.get(found[0].rom)
    if found:
        there = ", ".join(names.get(one.rom, one.rom) for one in found)
        raise ValueError(f"several probes answer: {there}; say which")
    raise ValueError(
        f"{'no probe' if wanted is None else f'no probe {wanted!r}'} answers in "
        f"{loaded.w1_folder}; see wetside doctor"
    )


def _readings(
    bus: Bus, rom: str, noted: float | None, instruction: str, every: float
) -> Sequence[float]:
    """Uncorrected readings of a point, degC; the noted one where there is one."""
    if noted is not None:
        return [noted]
    typer.echo(f"\n{instruction}")
    typer.prompt("Press Enter when it is so", default="", show_default=False)
    values: list[float] = []
    for count in range(READINGS):
        if count:
            time.sleep(every)
        values.append(_raw(bus.read(), rom))
    print(f"reads {sum(values) / len(values):.3f} C, {min(values):.3f} to {max(values):.3f}")
    return values


def _raw(answers: Sequence[Answer], rom: str) -> float:
    answer = next((one for one in answers if one.rom == rom), None)
    if answer is None or answer.raw_celsius is None or answer.celsius is None:
        raise ValueError(f"the probe gives no reading: {answer.condition if answer else 'gone'}")
    return answer.raw_celsius


def _report(name: str, rom: str, line: Calibration, shows: float) -> None:
    slope, offset = line.settings
    promised = math.ceil(1.96 * line.used_sd * 100 - 1e-6) / 100
    print(f"\n{name} ({rom}): true = {slope:.5f} x read {offset:+.3f} C")
    low, high = calibration.USED_CELSIUS
    print(
        f"It is then right to ±{promised:.2f} C between {low:g} and {high:g} C, 19 times in 20 "
        f"(sd {line.used_sd:.3f}); without, the data sheet's ±0.5 C."
    )
    if not line.holds(0.3, shows) or promised > 0.3:
        print("±0.3 C cannot be promised with this thermometer.")
