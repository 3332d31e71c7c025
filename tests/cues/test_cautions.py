"""What keeps people from harm is said where the work is done."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from posed import ONE_REEL, SCENES, SHEETS, finished, outlook, running, tempering

from wetside.cues import gallery
from wetside.cues.cautioning import AT_THE_END, AT_THE_POUR, IN_THE_STEP
from wetside.cues.view import view
from wetside.outlook import Quantiles
from wetside.session.sheet import StepKind


def test_cautions_stand_where_the_work_is_done() -> None:
    """Gloves at the pour, waste and hands at the end, the sheet's own words in their step."""
    pour = running(6.0)
    assert {"developer", "gloves on, no splashes"} == {
        view(replace(pour, now=300.0 + at)).lines[1] for at in (1.0, 5.0)
    }
    assert "wash hands" in " ".join(finished(20.0))
    assert ONE_REEL.step[-1].cautions[0] in " ".join(finished(20.0))
    rest = running(100.0)
    seen = {view(replace(rest, now=rest.now + 4 * n)).lines[1] for n in range(6)}
    assert set(ONE_REEL.step[1].cautions) <= seen


def _said_in(kind: StepKind) -> set[str]:
    """Every second line of a step of this kind from the pour on; of hanging, the end of a roll."""
    if kind is StepKind.HANG:
        shown = SCENES["finished"].snapshot
        return {view(replace(shown, now=shown.now + 4 * n)).lines[1] for n in range(12)}
    steps = [step.kind for step in ONE_REEL.step]
    if kind is StepKind.TEMPER:
        given = tempering(outlook(ready=Quantiles(90.0, 100.0, 120.0)))
        return {view(replace(given, now=given.now + 4 * n)).lines[-1] for n in range(12)}
    at = [*range(9), *range(12, 70, 4)]
    return {view(running(float(offset), steps.index(kind))).lines[1] for offset in at}


SAFETY = Path(__file__).parents[2] / "docs" / "safety.md"


@pytest.mark.parametrize("kind", StepKind)
def test_the_safety_page_quotes_what_the_display_says_in_each_step(kind: StepKind) -> None:
    """Each text of the page's column stands on that step's second line, and none is missing."""
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in SAFETY.read_text(encoding="utf-8").splitlines()
        if line.startswith("| ") and line.count("|") == 5
    ]
    (quoted,) = [row[3] for row in rows if str(kind) in row[0].split(", ")]
    texts = set(re.findall(r'"([^"]+)"', quoted))
    said = _said_in(kind)
    assert texts <= said
    own = {*AT_THE_POUR.get(kind, ()), *IN_THE_STEP.get(kind, ())}
    assert (own or texts if kind is not StepKind.HANG else set(AT_THE_END)) == texts


def test_collected_fixer_is_named_at_the_end() -> None:
    """A sheet that collects its fixer says so when the film hangs."""
    two = next(sheet for sheet in SHEETS if sheet.reels == 2)
    snapshot = next(s.snapshot for s in gallery.scenes(two) if s.name == "finished")
    seen = {view(replace(snapshot, now=snapshot.now + 4 * n)).lines[1] for n in range(8)}
    assert "collect the fixer" in seen
