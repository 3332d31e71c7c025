"""What a sheet's law of development says at the moment of pouring. Pure."""

from __future__ import annotations

from wetside.development.choose import Choice, Help, Option, Way, choose
from wetside.outlook import Outlook
from wetside.session.events import Json
from wetside.session.sheet import Sheet
from wetside.session.warmth import other_baths

#: Said where nothing was ever measured.
_UNKNOWN = "the developer's temperature is not known: it was not measured"


def choice_of(sheet: Sheet, outlook: Outlook | None, help_: Help | None = None) -> Choice | None:
    """Waiting and pouring now compared, at the sheet's own clock.

    None where the sheet has no law, or nothing is known of the developer yet.
    """
    development = sheet.develop.development
    if development is None or outlook is None or outlook.developer is None:
        return None
    return choose(
        outlook,
        development.law(),
        development.limits(),
        development.nominal_celsius,
        development.factors(),
        sheet.develop.fill_seconds,
        other_baths(sheet),
        help_,
        sheet.develop.span,
    )


def pour_detail(sheet: Sheet, outlook: Outlook | None, *, inside: bool) -> dict[str, Json]:
    """What the NOW that pours the developer carries.

    Parameters
    ----------
    sheet
        The run's sheet.
    outlook
        The latest forecast, None without one.
    inside
        Whether the window is open: then the nominal time stands.

    Returns
    -------
    dict
        ``developer_celsius``, ``developer_sd``, ``bath_celsius``; and where the sheet has a law
        ``choice`` (which way was taken, and both), ``law`` (its source), and either
        ``develop_seconds`` (how long the step is to last, filling included) or
        ``no_adjusted_time`` (why the law gives none, or none that the step can hold).
    """
    developer = outlook.developer if outlook else None
    bath = outlook.bath if outlook else None
    detail: dict[str, Json] = {
        "developer_celsius": round(developer.celsius, 3) if developer else None
    }
    if developer is not None:
        detail["developer_sd"] = round(developer.sd, 3)
    if bath is not None:
        detail["bath_celsius"] = round(bath.celsius, 3)
    development = sheet.develop.development
    if development is None:
        return detail
    choice = choice_of(sheet, outlook)
    way = Way.WAIT if inside else Way.POUR
    detail["choice"] = {"way": str(way), **(choice_object(choice) if choice else {})}
    detail["law"] = development.source
    if inside:
        detail["develop_seconds"] = sheet.develop.seconds
    elif choice is None or choice.pour.develop is None:
        reason = choice.pour.refused if choice else None
        detail["no_adjusted_time"] = reason or _UNKNOWN
    else:
        # whole seconds, as the countdown shows them
        detail["develop_seconds"] = float(round(choice.pour.develop))
    return detail


def choice_object(choice: Choice) -> dict[str, Json]:
    """A choice as JSON values, for the journal and the live file."""
    return {
        "wait": _option(choice.wait),
        "pour": _option(choice.pour),
        "sooner": None if choice.sooner is None else str(choice.sooner),
        "safer": None if choice.safer is None else str(choice.safer),
    }


def _option(option: Option) -> dict[str, Json]:
    def rounded(seconds: float | None) -> float | None:
        return None if seconds is None else round(seconds, 1)

    return {
        "pour_in": rounded(option.pour_in),
        "develop": rounded(option.develop),
        "done_in": rounded(option.done_in),
        "done_low": rounded(option.done_low),
        "done_high": rounded(option.done_high),
        "doubts": list(option.doubts),
        "refused": option.refused,
        "line": option.line,
    }
