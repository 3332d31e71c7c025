"""The screen that asks: wait for the window, or pour now with the adjusted time? Pure."""

from __future__ import annotations

from wetside.cues import wording
from wetside.cues.notice import Notice
from wetside.cues.snapshot import Snapshot
from wetside.development.choose import Choice, Option, Way
from wetside.session.signals import Cue

_ADVICE = {
    (Way.WAIT, Way.WAIT): "better wait",
    (Way.POUR, Way.WAIT): "waiting is safer",
    (Way.POUR, Way.POUR): "better pour now",
    (Way.WAIT, Way.POUR): "now is safer",
}


def choosing(snapshot: Snapshot, choice: Choice, asked: Cue) -> Notice:
    """Both ways as they stand now, which is better, and what speaks against each."""
    corner = ""
    if snapshot.outlook is not None and snapshot.outlook.developer is not None:
        believed = snapshot.outlook.developer.celsius
        corner = wording.temperature(believed, fahrenheit=snapshot.fahrenheit)
    return Notice(
        name=f"message-{asked.name}",
        head="wait or pour?",
        corner=corner,
        big=_advice(choice),
        lines=(*choice.lines, wording.page(_notes(snapshot, choice), snapshot.now - asked.seconds)),
    )


def _advice(choice: Choice) -> str:
    if choice.sooner is not None and choice.safer is not None:
        return _ADVICE[choice.sooner, choice.safer]
    return "neither is sure"


def _notes(snapshot: Snapshot, choice: Choice) -> list[str]:
    notes = ["hold now: pour"]
    if choice.pour.refused is not None:
        notes = ["hold now: nominal time", *_nominal(snapshot)]
    for name, option in (("now", choice.pour), ("wait", choice.wait)):
        notes += [f"{name}: {text}" for text in _against(option, snapshot)]
    return notes


def _nominal(snapshot: Snapshot) -> tuple[str, ...]:
    """What the nominal time would make of the developer as it is."""
    sheet, outlook = snapshot.session.sheet, snapshot.outlook
    if sheet is None or outlook is None or outlook.developer is None:
        return ()
    return wording.overdevelops(sheet.develop.development, outlook.developer.celsius)


def _against(option: Option, snapshot: Snapshot) -> list[str]:
    told = (option.refused,) if option.refused is not None else option.doubts
    return [wording.briefly(text, fahrenheit=snapshot.fahrenheit) for text in told]
