"""A failed roll explained: causes, evidence, sources."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from wetside.journal.reader import Reader
from wetside.journal.schema import Json
from wetside.readings import Condition
from wetside.session.run import Developed
from wetside.session.sheet import StepKind
from wetside_desk import causes, diagnosis, evidence
from wetside_desk.evidence import Facts, Weighs
from wetside_desk.pages import telling, words
from wetside_desk.review import Review, review
from wetside_desk.store import notes

if TYPE_CHECKING:
    from tests.desk.invented import Story, tell_alone

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import Story, tell_alone


def found(outcome: str, **facts: object) -> dict[str, Weighs]:
    """Causes of an outcome and what the log says of each, in order."""
    seen = Facts(**facts)  # type: ignore[arg-type]  # named in each test
    return {f.rule.name: f.evidence.weighs for f in diagnosis.explain(outcome, seen)}


def test_cold_developer_explains_a_thin_film() -> None:
    """Four degrees too cold comes first among the causes of a thin film."""
    likely = found(
        "thin",
        develop_planned=430.0,
        develop_actual=430.0,
        poured_off=-4.0,
        development=(-0.36, -0.24),
    )
    assert "less-development" == next(iter(likely))
    assert Weighs.FOR is likely["less-development"]


def test_right_development_speaks_against_itself() -> None:
    """When the log shows the right development, that cause goes to the end of the list."""
    likely = found(
        "dense",
        develop_planned=430.0,
        develop_actual=431.0,
        poured_off=0.1,
        development=(0.0, 0.02),
    )
    order = list(likely)
    assert order.index("more-development") > order.index("overexposed")
    assert Weighs.AGAINST is likely["more-development"]


def test_short_fixing_explains_a_milky_film() -> None:
    """Half the fixing time is named with its figures."""
    seen = Facts(fix_planned=310.0, fix_actual=150.0)
    first = diagnosis.explain("milky", seen)[0]
    assert ("fix-short", "The fix lasted 2:30 of 5:10.") == (first.rule.name, first.evidence.says)


@pytest.mark.parametrize("outcome", ["milky", "stained"])
def test_full_fixing_time_says_nothing_of_the_fixer(outcome: str) -> None:
    """The time is one cause and the fixer another: it stays in the list, as not seen."""
    likely = found(outcome, fix_planned=310.0, fix_actual=311.0)
    assert Weighs.UNSEEN is likely["tired-fixer"]
    assert Weighs.AGAINST is likely["fix-short"]
    order = list(likely)
    assert order.index("tired-fixer") < order.index("fix-short")
    assert "milky" != outcome or "tired-fixer" == order[0]


def test_a_sheet_that_fixes_too_short_speaks_for_it() -> None:
    """As long as planned is no comfort where the plan is too short."""
    seen = Facts(fix_planned=60.0, fix_actual=60.0, fix_doubt="fixes for 1:00, less than 2:00")
    first = diagnosis.explain("milky", seen)[0]
    assert "The sheet fixes for 1:00, less than 2:00." == first.evidence.says
    seen = Facts(wash_planned=60.0, wash_actual=60.0, wash_doubt="washes for 1:00")
    assert Weighs.FOR is evidence.wash_short(seen).weighs


def test_a_tenth_less_development_makes_no_blank_film() -> None:
    """Before a blank film come the camera and the bottles; hardly any development is refuted."""
    likely = found("blank", develop_planned=430.0, develop_actual=430.0, development=(-0.12, -0.08))
    assert {"never-exposed", "fixer-first"} == set(list(likely)[:2])
    assert Weighs.AGAINST is likely["hardly-any-development"]
    assert "less-development" not in likely
    nothing = found("blank", development=(-0.95, -0.9))
    assert ("hardly-any-development", Weighs.FOR) == next(iter(nothing.items()))


def test_a_little_less_development_stands_behind_likelier_causes() -> None:
    """Ten percent are seen in a print and make no thin film; a quarter does."""
    little = found("thin", development=(-0.12, -0.08))
    assert "underexposed" == next(iter(little))
    assert Weighs.LITTLE is little["less-development"]
    assert ("less-development", Weighs.FOR) == next(
        iter(found("thin", development=(-0.3, -0.2)).items())
    )


def test_a_developer_that_is_too_strong_is_among_the_causes_of_a_dense_film() -> None:
    """So is agitation that is too strong; a late stop bath counts as more development already."""
    likely = found("dense")
    assert {"strong-developer", "agitation-violent", "more-development"} <= set(likely)
    assert "slow-change" not in likely


def test_a_late_fixer_is_no_slow_change_from_the_developer() -> None:
    """Only the bath after the developer counts, and by how late it came."""
    assert Weighs.UNSEEN is evidence.slow_change(Facts(develop_planned=430.0)).weighs
    in_time = Facts(develop_planned=430.0, develop_actual=432.0)
    assert Weighs.AGAINST is evidence.slow_change(in_time).weighs
    late = evidence.slow_change(replace(in_time, stop_late=14.0))
    assert (Weighs.LITTLE, "The bath after the developer came 0:14 late.") == (
        late.weighs,
        late.says,
    )
    assert Weighs.FOR is evidence.slow_change(replace(in_time, stop_late=60.0)).weighs


def test_a_finding_of_little_weight_is_no_match_for_the_usual_cause() -> None:
    """A wash cut short does not stand above the fixer where film is milky."""
    likely = found("milky", fix_planned=310.0, fix_actual=311.0, wash_planned=310, wash_actual=60)
    assert Weighs.FOR is likely["wash-short"]
    assert ["tired-fixer", "wash-short"] == list(likely)[:2]


def test_something_else_has_no_cause() -> None:
    """Nobody can tell what it is, so no cause is told."""
    assert {} == found("other")


def test_baths_of_the_sheet_too_far_apart_explain_a_wrinkled_film() -> None:
    """By the sheet's own temperatures, in the teacher's unit; without them nobody can tell."""
    wide = ("stop is 4.0 degrees colder than develop, 3.0 degrees allowed: it may wrinkle",)
    first = diagnosis.explain("wrinkled", Facts(wide_baths=wide, unit="F"))[0]
    assert "baths-differ" == first.rule.name
    assert first.evidence.says.startswith("By the sheet stop is 7.2 °F colder than develop")
    assert Weighs.UNSEEN is found("wrinkled")["baths-differ"]


@pytest.mark.parametrize(("fahrenheit", "minutes"), [(70, 4.5), (72, 4.0), (76, 3.0), (80, 2.5)])
def test_amount_of_development_agrees_with_a_published_chart(
    fahrenheit: float, minutes: float
) -> None:
    """The two coefficients span a printed chart, but for its rounding to half minutes.

    Carestream Dental, Intraoral Processing Guidelines: 5 min at 68 F, and the pairs above.
    """
    off = (fahrenheit - 68.0) / 1.8
    slow, fast = (5.0 / c ** (off / 10.0) for c in diagnosis.COEFFICIENTS)
    assert fast - 0.25 <= minutes <= slow + 0.25


def test_facts_of_a_real_run(folder: DeskSettings) -> None:
    """Poured early, the log says too warm by how much, and how much development that was."""
    run = tell_alone(folder.journal, Story(outside=True))
    with Reader(folder.journal) as reader:
        row = reader.run(run)
        assert row is not None
        seen = diagnosis.facts(review(row.began, reader.events(run)))
    assert row.poured_celsius is not None
    assert seen.poured_off == pytest.approx(row.poured_celsius - 20.0, abs=0.001)
    assert seen.development is not None
    assert 0 < seen.development[0] < seen.development[1]
    assert seen.inside is False


@pytest.mark.parametrize(
    ("poured", "off", "development", "weighs"),
    [
        (21.2, 1.2, (0.09, 0.14), Weighs.AGAINST),
        (25.0, 5.0, (0.41, 0.49), Weighs.AGAINST),
        (25.1, 1.1, (0.05, 0.08), Weighs.FOR),
        (22.0, 2.0, (0.51, 0.6), Weighs.FOR),
        (None, None, None, Weighs.UNSEEN),
    ],
)
def test_fog_is_blamed_on_heat_above_25_degrees_or_half_as_much_again(
    poured: float | None,
    off: float | None,
    development: tuple[float, float] | None,
    weighs: Weighs,
) -> None:
    """A developer one degree too warm fogs nothing: light comes first then."""
    likely = found("fogged", poured_celsius=poured, poured_off=off, development=development)
    assert weighs is likely["hot-developer-fog"]
    first = "hot-developer-fog" if weighs is Weighs.FOR else "light-leak"
    assert first == next(iter(likely))


def test_stop_bath_first_leaves_an_image() -> None:
    """Fixer clears a film; stop bath alone does not, so it makes no blank one."""
    assert "fixer-first" in found("blank")
    assert "stop-first" not in found("blank")
    assert "stop-first" in found("thin")


def test_every_outcome_has_causes_and_every_rule_a_source() -> None:
    """Each that can be told apart is explained; each rule names its source and a known outcome."""
    explained = {outcome for rule in causes.RULES for outcome in rule.outcomes}
    assert set(notes.OUTCOMES) - {"good", "other"} == explained
    for rule in causes.RULES:
        assert rule.source
        assert rule.change.endswith(".")


def _reviewed(folder: DeskSettings, story: Story | None = None) -> Review:
    run = tell_alone(folder.journal, story or Story())
    with Reader(folder.journal) as reader:
        row = reader.run(run)
        assert row is not None
        return review(row.began, reader.events(run))


def _missing(seen: Review, kind: StepKind, number: int) -> Review:
    """The review with so many calls to move the tank in a step marked as missed."""
    assert seen.summary is not None
    step = next(step for step in seen.summary.steps if step.kind is kind)
    begins, lasts = step.began_after_seconds, step.actual_seconds or 0.0
    inside = [
        event.seq
        for event in seen.events
        if event.kind == "agitate" and begins < (seen.after(event) or 0.0) < begins + lasts
    ][:number]
    marked = tuple(
        replace(event, detail={**event.detail, "missed": True}) if event.seq in inside else event
        for event in seen.events
    )
    return replace(seen, events=marked)


@pytest.mark.parametrize(
    ("kind", "number", "weighs", "says"),
    [
        (StepKind.DEVELOP, 3, Weighs.FOR, "3 calls to move the tank came too late."),
        (StepKind.DEVELOP, 1, Weighs.LITTLE, "One call to move the tank came too late."),
        (StepKind.FIX, 3, Weighs.UNSEEN, "Every call came; whether it was followed is not logged."),
    ],
)
def test_only_calls_missed_in_the_developer_weigh_for_missed_agitation(
    folder: DeskSettings, kind: StepKind, number: int, weighs: Weighs, says: str
) -> None:
    """What the station marks as missed is counted; fixer and wash make no uneven film."""
    found = evidence.missed(diagnosis.facts(_missing(_reviewed(folder), kind, number)))
    assert (weighs, says) == (found.weighs, found.says)


def test_power_lost_in_the_fixer_makes_no_streaks(folder: DeskSettings) -> None:
    """The step is looked at: while the film developed, nothing was missed."""
    seen = diagnosis.facts(_reviewed(folder, Story(power_cut=True, gap_seconds=30.0)))
    assert not seen.power_lost
    assert Weighs.UNSEEN is evidence.missed(seen).weighs
    lost = replace(seen, power_lost=True)
    assert "The power was lost while the film developed." == evidence.missed(lost).says


def test_the_sheets_own_time_counts_where_the_pour_brought_another(folder: DeskSettings) -> None:
    """A shorter time for a warmer developer is not taken for the time of the target."""
    seen = _reviewed(folder)
    assert seen.summary is not None
    steps = tuple(
        replace(step, planned_seconds=300.0) if step.kind is StepKind.DEVELOP else step
        for step in seen.summary.steps
    )
    session = replace(seen.session, developed=None)
    adjusted = replace(seen, summary=replace(seen.summary, steps=steps), session=session)
    assert seen.session.sheet is not None
    assert seen.session.sheet.develop.seconds == diagnosis.facts(adjusted).develop_planned


def test_two_fixers_count_together(folder: DeskSettings) -> None:
    """Of two fixing steps both are looked at, not the last alone."""
    seen = _reviewed(folder)
    sheet = seen.session.sheet
    assert seen.summary is not None
    assert sheet is not None
    once = diagnosis.facts(seen)
    fix = next(step for step in seen.summary.steps if step.kind is StepKind.FIX)
    both = sheet.model_copy(
        update={"step": (*sheet.step, *(one for one in sheet.step if one.kind is StepKind.FIX))}
    )
    session = replace(seen.session, sheet=both)
    alone = diagnosis.facts(replace(seen, session=session))
    summary = replace(seen.summary, steps=(*seen.summary.steps, fix))
    twice = diagnosis.facts(replace(seen, session=session, summary=summary))
    assert once.fix_actual is not None
    assert once.fix_planned is not None
    assert (2 * once.fix_planned, once.fix_actual) == (alone.fix_planned, alone.fix_actual)
    assert twice.fix_actual == 2 * once.fix_actual


def test_the_stations_own_figure_of_development_counts(folder: DeskSettings) -> None:
    """Where the station worked out how much it developed, the explanation goes by that."""
    seen = _reviewed(folder)
    session = replace(seen.session, developed=Developed(75.0, 70.0, 80.0, "75 %"))
    facts = diagnosis.facts(replace(seen, session=session))
    assert facts.development == pytest.approx((-0.3, -0.2))
    first = diagnosis.explain("thin", facts)[0]
    assert "About 20 to 30 % less development than the sheet." == first.evidence.says


@pytest.mark.parametrize(
    ("detail", "said"),
    [
        ({"late_seconds": 0.2, "cue": "agitate", "missed": False}, ""),
        ({"late_seconds": 1.24, "cue": "agitate", "missed": True}, "1.2 s late; missed"),
        ({"developer_celsius": 20.0, "leaves_in": 65}, "developer 68.0 °F; leaves in 1:05"),
        ({"choice": {"way": "wait", "wait": {}}}, "chosen: wait"),
        ({"wait": {"done_in": 642.1, "refused": None}}, "wait: developed after 10:42"),
        ({"pour": {"done_in": None, "refused": "too cold"}}, "pour: too cold"),
        ({"text": "108 % of nominal", "percent": 107.9, "law": "x"}, "108 % of nominal"),
        (
            {"tank": "in the room, taken as 21.0 degC (sd 2.0)"},
            "tank in the room, taken as 69.8 °F, give or take 3.6 °F",
        ),
        (
            {"pour": {"done_in": None, "refused": "26.9 degC is outside 18.0 to 25.0 degC"}},
            "pour: 80.4 °F is outside 64.4 to 77.0 °F",
        ),
        ({"never": 0.992}, "99 % sure"),
        ({"out": False, "faults": ["a", "b"], "n": 3.14159}, "not out; faults a, b; n 3.142"),
    ],
)
def test_events_are_told_in_words(detail: dict[str, Json], said: str) -> None:
    """What the journal keeps beside an event stands as a teacher reads it, not as data."""
    assert said == telling.detail(detail, "F")


@pytest.mark.parametrize(
    ("kind", "detail", "said"),
    [
        (
            "probe-condition",
            {"probe": "probe", "condition": "probe vanished", "before": "failed read", "at": 1.0},
            "The probe does not answer any more",
        ),
        ("probe-condition", {"probe": "28-1", "condition": "odd"}, "Probe 28-1: odd"),
        ("place", {"at": 5.0, "probe": "developer"}, "The probe is in the developer"),
        ("place", {"a": "bath"}, "Probe a is in the bath"),
        ("place", {"b": ""}, "Probe b is at a place that nobody told"),
    ],
)  # fmt: skip
def test_what_happened_to_a_probe_is_a_sentence(
    kind: str, detail: dict[str, Json], said: str
) -> None:
    """The device's own words for a probe, "probe probe; condition ...", are not shown."""
    assert said == telling.detail(detail, "C", kind)


@pytest.mark.parametrize("condition", Condition)
def test_every_condition_of_a_probe_has_words(condition: Condition) -> None:
    """None is left as the journal writes it."""
    assert not words.trouble("probe", condition).startswith("The probe:")


def test_the_log_speaks_in_the_teachers_unit() -> None:
    """0.5 °C off the target are 0.9 °F, and less than can be read is on the target."""
    seen = Facts(
        develop_planned=400.0, develop_actual=400.0, poured_off=0.5, development=(0.0, 0.0)
    )
    assert "+0.5 °C off" in evidence.less(seen).says
    assert "+0.9 °F off" in evidence.less(replace(seen, unit="F")).says
    on = evidence.less(replace(seen, poured_off=-0.02)).says
    assert "Developed 6:40, the sheet says 6:40, poured on the target." == on
