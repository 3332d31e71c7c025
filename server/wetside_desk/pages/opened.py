"""What a form was opened with: it changes only the fields that somebody changed in it. Pure.

The page puts the texts of its fields into the form a second time, hidden. So the desk can tell what
was changed in the form from what others changed in the file meanwhile, and a form that comes too
late is shown again as things stand, with nothing in it but its own changes.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping

from starlette.datastructures import FormData

from wetside_desk.pages import forms
from wetside_desk.pages.forms import Refused, text_of, texts_of
from wetside_desk.problems import ProblemError

#: The hidden field.
FIELD = "opened"


def carried(stood: Mapping[str, str]) -> str:
    """What the hidden field holds."""
    return json.dumps(stood, ensure_ascii=False)


def of(form: FormData) -> dict[str, str] | None:
    """What a form was opened with; None where it does not say."""
    try:
        found = json.loads(text_of(form, FIELD) or "null")
    except ValueError:
        return None
    if not isinstance(found, dict):
        return None
    return {name: text for name, text in found.items() if isinstance(text, str)}


def changes(
    form: FormData, stood: Mapping[str, str], ticks: Collection[str] = ()
) -> dict[str, str]:
    """The fields that were changed in a form, as they were sent.

    ``stood`` is what stands in its fields now, for a form that does not say what it was opened
    with. A field that was not sent is left alone, but ``ticks`` were taken out then.
    """
    before = {**stood, **(of(form) or {})}
    sent = {
        name: " ".join(texts_of(form, name)).strip()
        for name in stood
        if name in form or name in ticks
    }
    return {name: text for name, text in sent.items() if text != before[name].strip()}


def overtaken(form: FormData, mine: Mapping[str, str], stood: Mapping[str, str]) -> list[str]:
    """Those of ``mine`` that somebody else changed too since the form was opened."""
    before = of(form) or stood
    return [
        name
        for name, text in mine.items()
        if stood[name] not in {text, before.get(name, stood[name])}
    ]


def overtaken_told(
    form: FormData, mine: Mapping[str, str], stood: Mapping[str, str], labels: Mapping[str, str]
) -> list[Refused]:
    """What is said at the fields that somebody else changed too, where there is no file to see."""
    says = "it is {} by now, from another place. Keep yours again to replace it."
    return [
        Refused(labels[name], says.format(stood[name] or "empty"), name)
        for name in overtaken(form, mine, stood)
    ]


def problems_of(
    error: Exception,
    form: FormData,
    mine: Mapping[str, str],
    stood: Mapping[str, str],
    labels: Mapping[str, str],
) -> list[tuple[str, str]]:
    """As `forms.problems_of`; of a form that came too late, what the page now shows in it.

    Raises
    ------
    ProblemError
        Again, where it is not about what was filled in.
    """
    found = forms.problems_of(error)
    if isinstance(error, ProblemError) and error.problem.name == "changed-meanwhile":
        theirs = overtaken(form, mine, stood)
        named = ", ".join(
            f"“{labels.get(name, name)}”"
            + (f" ({stood[name] or 'empty'} by now)" if name in theirs else "")
            for name in mine
        )
        again = f", with what you changed in it: {named}" if named else ""
        found.append(("", f"Here is how it stands now{again}. Keep it if that is right."))
    return found
