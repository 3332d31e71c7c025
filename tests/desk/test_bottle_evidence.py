"""What the shelf says of a failed roll: the bottles as they stood when the run went through."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import pytest

from wetside.development.bottles import Bottle, Check, Colour, Holds, ShelfFile
from wetside.development.shelf import Use
from wetside_desk import bottle_evidence, house
from wetside_desk.evidence import Evidence, Facts, Weighs
from wetside_desk.shelf import through
from wetside_desk.shelf.through import Bottles
from wetside_desk.store import notes, preferences, uses
from wetside_desk.store.preferences import Preferences

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import desk_of
else:
    from desk_asking import desk_of

DAY = date(2031, 9, 10)


def bottle(label: str, holds: Holds, **more: object) -> Bottle:
    table: dict[str, object] = {
        "label": label,
        "holds": holds,
        "use": "reused",
        "millilitres": 1000,
        "mixed_on": DAY - timedelta(days=9),
        "rolls_per_litre": 20,
    }
    return Bottle.model_validate(table | more)


FIXER = bottle("Fix", Holds.FIXER, fresh_clearing_seconds=40)


def of_run(one: Bottle, before: int = 0, missing: tuple[str, ...] = ()) -> Bottles:
    """What the shelf knows of a run through a bottle after so many others."""
    earlier = [Use(f"a{n}", one.label, DAY - timedelta(days=1), 1.0) for n in range(before)]
    mine = Use("r", one.label, DAY, 1.0)
    later = Use("z", one.label, DAY + timedelta(days=1), 9.0)
    there = ShelfFile(format=1, bottle=(one,))
    return through.bottles(there, [*earlier, mine, later], [mine], missing)


def fixed(one: Bottle, before: int = 0, seconds: float = 310.0) -> Facts:
    """A run that fixed as long as planned in that fixer."""
    return Facts(fix_planned=seconds, fix_actual=seconds, bottles=of_run(one, before))


def trial(seconds: float, days: int, one: Bottle = FIXER, rolls: float | None = None) -> Bottle:
    """A fixer with a clearing-time test so many days after the run."""
    check = Check(on=DAY + timedelta(days=days), clearing_seconds=seconds, rolls=rolls)
    return one.model_copy(update={"check": (*one.check, check)})


@pytest.mark.parametrize(
    ("one", "before", "weighs", "says"),
    [
        (FIXER, 3, Weighs.UNSEEN, "Fix was 9 days old and had taken 3 of its 20 rolls; time a"),
        (FIXER, 12, Weighs.HINT, "had taken 12 of its 20 rolls; tabular films use up to twice"),
        (FIXER, 20, Weighs.FOR, "Fix was used up before this run: 20 of its 20 rolls."),
        (trial(80, -2), 3, Weighs.FOR, "Fix, tested on 2031-09-08: clears in 1:20"),
        (trial(45, -2), 3, Weighs.UNSEEN, "Fix was 9 days old"),
        (trial(45, 0), 3, Weighs.UNSEEN, "Fix was 9 days old"),
        (trial(45, 0, rolls=4), 3, Weighs.AGAINST, "Fix still cleared film on 2031-09-10"),
        (trial(50, 3), 12, Weighs.AGAINST, "Fix still cleared film on 2031-09-13: clears in 0:50"),
        (trial(85, 3), 3, Weighs.HINT, "Fix, tested on 2031-09-13: clears in 1:25"),
        (
            FIXER.model_copy(update={"keeps_full_days": 5}),
            3,
            Weighs.FOR,
            "Fix was too old since 2031-09-06.",
        ),
    ],
    ids=["young", "half", "full", "failed", "good before", "good that day", "good after it",
         "good later", "failed later", "old"],
)  # fmt: skip
def test_the_fixer_is_judged_as_it_stood(
    one: Bottle, before: int, weighs: Weighs, says: str
) -> None:
    """By rolls, age and tests until the run; a test after it that is good acquits the fixer."""
    found = bottle_evidence.tired_fixer(fixed(one, before))
    assert weighs is found.weighs
    assert says in found.says


def test_a_fixer_that_clears_slowly_asks_for_a_longer_fix() -> None:
    """Clearing in 1:15 it needs 2:30; 2:10 are too short for it, whatever was planned."""
    seen = fixed(trial(75, -1), 3, seconds=130.0)
    found = bottle_evidence.fix_short(seen)
    assert Weighs.FOR is found.weighs
    assert "clears in 1:15, fresh 0:40: fix for 2:30; this run fixed for 2:10." in found.says
    assert Weighs.AGAINST is bottle_evidence.fix_short(fixed(trial(60, -1), 3)).weighs


def test_what_the_shelf_does_not_know_is_said() -> None:
    """No bottle, one that was mixed anew since, and a kind that no bottle could serve."""
    nothing = Facts(fix_planned=310.0, fix_actual=310.0)
    found = bottle_evidence.tired_fixer(nothing)
    assert (Weighs.UNSEEN, "No fixer is on record for this run; time a film leader in it.") == (
        found.weighs,
        found.says,
    )
    there = ShelfFile(format=1, bottle=(FIXER,))
    renewed = through.bottles(there, [], [Use("r", "Fix", DAY, 1.0)], ())
    found = bottle_evidence.tired_fixer(Facts(bottles=renewed))
    assert "Fix was mixed anew since; how it was then is not known." == found.says
    lacking = through.bottles(there, [], [], ("no bottle of fixer serves 1 roll and 300 mL",))
    assert Weighs.HINT is bottle_evidence.tired_fixer(Facts(bottles=lacking)).weighs


def developed(one: Bottle, before: int, **facts: object) -> Evidence:
    seen = Facts(development=(0.0, 0.02), bottles=of_run(one, before))
    for name, value in facts.items():
        object.__setattr__(seen, name, value)
    return bottle_evidence.tired_developer(seen)


def test_a_reused_developer_that_was_not_given_its_time_explains_a_thin_film() -> None:
    """After three rolls it asks for 1.30 times the time; lengthened, nothing is lacking."""
    dev = bottle("Dev", Holds.DEVELOPER, longer_per_roll=0.1)
    found = developed(dev, 3)
    assert Weighs.FOR is found.weighs
    assert "Dev asked for 1.30 times the time of the sheet" in found.says
    assert Weighs.HINT is developed(dev, 1).weighs
    assert Weighs.UNSEEN is developed(dev, 3, development=(0.25, 0.3)).weighs
    assert Weighs.UNSEEN is developed(dev, 3, longer_counted=True).weighs


def test_an_old_developer_is_no_proof_of_a_blank_film() -> None:
    """What is too old mostly leaves a weak image: thin film is shown by it, blank film hinted."""
    old = bottle("Dev", Holds.DEVELOPER, keeps_full_days=5)
    seen = Facts(bottles=of_run(old))
    assert Weighs.FOR is bottle_evidence.tired_developer(seen).weighs
    assert Weighs.HINT is bottle_evidence.dead_developer(seen).weighs


@pytest.mark.parametrize(
    ("colour", "weighs"),
    [(Colour.PURPLE, Weighs.FOR), (Colour.TURNING, Weighs.HINT), (Colour.YELLOW, Weighs.UNSEEN)],
)
def test_a_spent_stop_bath_carries_developer_into_the_fixer(colour: Colour, weighs: Weighs) -> None:
    """By its indicator before the run; a sheet without stop bath and rinse says it by itself."""
    check = Check(on=DAY - timedelta(days=1), colour=colour)
    stop = bottle("Stop", Holds.STOP).model_copy(update={"check": (check,)})
    assert weighs is bottle_evidence.weak_stop(Facts(stopped=True, bottles=of_run(stop))).weighs
    assert Weighs.FOR is bottle_evidence.weak_stop(Facts(stopped=False)).weighs


def test_the_page_of_a_milky_run_speaks_of_its_fixer(pages: TestClient) -> None:
    """The bottle on record for the run, with its rolls, comes first."""
    desk = desk_of(pages)
    house.counted_shelf(desk)
    use = next(one for one in uses.current(desk.database) if one.bottle == "Fixer 1")
    notes.write(desk.database, use.run, "milky", "", 0)
    text = pages.get(f"/runs/{use.run}").text
    findings = text[text.index('class="findings"') :]
    first = findings[: findings.index("</li>")]
    assert "Fixer exhausted, too old, too weak or wrongly mixed" in first
    assert "Fixer 1" in first
    assert "the log speaks against it" not in first
    notes.write(desk.database, use.run, "other", "", 1)
    assert "has none for “something else”" in pages.get(f"/runs/{use.run}").text


def test_the_tables_temperatures_are_in_the_teachers_unit(pages: TestClient) -> None:
    """Differences and limits alike."""
    assert "within 3.0 °C of the developer" in pages.get("/rules").text
    preferences.save(desk_of(pages).database, Preferences(temperature="F"))
    text = pages.get("/rules").text
    assert "within 5.4 °F of the developer" in text
    assert "below 75 to 77 °F" in text
    assert "°C" not in text[text.index("<table") : text.index("</table>")]
