"""Charts: thinned, drawn, the same on paper and screen."""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest

from wetside.outlook import Quantiles
from wetside_desk.charts import bars, of_run, series, svg
from wetside_desk.charts.series import Chart, Line, Stroke
from wetside_desk.review import Promise

if TYPE_CHECKING:
    from starlette.testclient import TestClient
    from tests.desk.asking import ids_of
    from tests.desk.invented import Story, local, tell_alone

    from wetside_desk.settings import DeskSettings
else:
    from desk_asking import ids_of
    from desk_invented import Story, local, tell_alone


def test_thinning_keeps_peaks_gaps_and_order() -> None:
    """Of many points few are drawn, but never without the highest, the lowest and the gaps."""
    points: list[series.Point] = [(float(x), 20.0) for x in range(5000)]
    points[1234] = (1234.0, 31.0)
    points[4321] = (4321.0, 9.0)
    points[2500] = (2500.0, None)
    thin = series.thin(points)
    assert len(thin) <= 420
    assert {(1234.0, 31.0), (4321.0, 9.0), (2500.0, None)} <= set(thin)
    assert sorted(x for x, _ in thin) == [x for x, _ in thin]


def test_still_chart_is_well_formed_and_says_what_it_shows() -> None:
    """The picture is XML, has its sentence for screen readers, and breaks at a gap."""
    chart = Chart(
        "A <chart>", "It shows & tells.", "x", "y",
        (Line("a", [(0.0, 1.0), (1.0, 2.0), (2.0, None), (3.0, 1.5), (4.0, 1.0)]),),
    )  # fmt: skip
    root = ET.fromstring(svg.draw(chart))
    space = "{http://www.w3.org/2000/svg}"
    title = root.find(f"{space}title")
    assert title is not None
    assert "A <chart>. It shows & tells." == title.text
    assert 2 == len(root.findall(f"{space}polyline"))


def test_empty_chart_says_so() -> None:
    """Without points there is a sentence instead of an empty frame."""
    assert "nothing was recorded" in svg.draw(Chart("t", "s", "x", "y", ()))


@pytest.mark.parametrize(
    ("low", "high", "wanted"),
    [(0.0, 10.0, [0, 2, 4, 6, 8, 10]), (18.4, 20.6, [18.5, 19, 19.5, 20, 20.5])],
)
def test_ticks_are_round(low: float, high: float, wanted: list[float]) -> None:
    """Grid lines stand at round numbers."""
    assert wanted == pytest.approx(svg.ticks(low, high, 5))


def test_bars_carry_their_numbers() -> None:
    """Each bar's figure is in the picture and in its sentence."""
    text = bars.draw("Flags", [bars.Bar("late", 3, 10, "3 of 10")])
    assert 2 == text.count("3 of 10")


def test_chart_values_match_the_trace(folder: DeskSettings) -> None:
    """What the live chart gets are the readings of the trace, in minutes."""
    run = tell_alone(folder.journal, Story())
    client = local(folder)
    rows = list(csv.DictReader(io.StringIO(client.get(f"/v1/runs/{run}/trace.csv").text)))
    lines = client.get(f"/runs/{run}/trace.json").json()["lines"]
    developer = next(line for line in lines if line["name"] == "developer")["points"]
    readings = {
        (round(float(row["seconds"]) / 60, 3), round(float(row["celsius"]), 3))
        for row in rows
        if row["place"] == "developer"
    }
    assert {(x, y) for x, y in developer} <= readings
    assert len(developer) > 50


def test_names_of_marks_do_not_lie_over_each_other() -> None:
    """After very long tempering the steps stand close together; their names go into rows."""
    names = ("Temper", "Develop", "Stop bath", "Fix", "Rinse", "Clearing bath", "Wash", "Hang")
    begins = (0.0, 90.0, 97.2, 98.0, 103.2, 103.9, 106.0, 116.0)
    marks = tuple(series.Mark(at, name) for at, name in zip(begins, names, strict=True))
    lines = (Line("a", [(0.0, 1.0), (118.0, 2.0)]),)
    texts = re.findall(
        r'class="p-text" x="([\d.]+)" y="([\d.]+)"[^>]*>([A-Z][a-z]+(?: bath)?)<',
        svg.draw(Chart("t", "s", "x", "y", lines, marks=marks)),
    )
    placed = [(float(x), float(y), name) for x, y, name in texts if name in names]
    assert set(names) - {"Hang"} <= {name for _, _, name in placed}
    for x, y, name in placed:
        for other_x, other_y, other in placed:
            if y == other_y and x < other_x:
                assert x + 6.6 * len(name) < other_x, (name, other)


def test_a_mark_near_the_right_edge_has_its_name_before_it() -> None:
    """The wetting agent begins a minute before the end: its name stands to the left of its line."""
    lines = (Line("a", [(0.0, 1.0), (27.0, 2.0)]),)
    marks = (series.Mark(0.0, "Temper"), series.Mark(26.0, "Wetting agent"))
    drawn = svg.draw(Chart("t", "s", "x", "y", lines, marks=marks))
    line = re.findall(r'class="p-mark" x1="([\d.]+)"', drawn)[1]
    name = re.search(r'x="([\d.]+)"[^>]*>Wetting agent<', drawn)
    assert name is not None
    assert float(name[1]) + 6.6 * len("Wetting agent") < float(line)


def test_a_name_lies_above_the_line_that_crosses_it() -> None:
    """Names come after all lines, and each has a rim of paper."""
    lines = (Line("a", [(0.0, 1.0), (27.0, 2.0)]),)
    marks = (series.Mark(11.0, "Stop bath"), series.Mark(12.0, "Fix"))
    drawn = svg.draw(Chart("t", "s", "x", "y", lines, marks=marks))
    assert drawn.rindex('class="p-mark"') < drawn.index('paint-order="stroke"')
    assert drawn.index('paint-order="stroke"') < drawn.index(">Stop bath<")


def test_the_trace_shows_when_agitation_was_called(folder: DeskSettings) -> None:
    """Each call to agitate is a bar up to the call to rest, in the picture and in its values."""
    run = tell_alone(folder.journal, Story())
    client = local(folder)
    events = client.get(f"/v1/runs/{run}").json()["events"]
    begun = [one["after_seconds"] for one in events if one["kind"] == "agitate"]
    moves = client.get(f"/runs/{run}/trace.json").json()["moves"]["spans"]
    assert [begin * 60 for begin, _ in moves] == pytest.approx(begun, abs=0.05)
    assert 10.0 == pytest.approx((moves[1][1] - moves[1][0]) * 60, abs=5.1)
    drawn = client.get(f"/runs/{run}/trace.svg").text
    assert len(begun) + 1 == drawn.count('class="p-move"')  # and one in the legend


def test_long_names_of_bars_are_whole() -> None:
    """The longest flag there is has room beside its bar, inside the picture."""
    name = "poured outside the window"
    text = bars.draw("Flags", [bars.Bar(name, 3), bars.Bar("late", 1)])
    assert f">{name}</text>" in text
    right = re.search(rf'x="([\d.]+)" y="[\d.]+" text-anchor="end"[^>]*>{name}<', text)
    assert right is not None
    assert float(right[1]) - 7.6 * len(name) >= 0


def test_every_chart_can_be_kept_as_a_file(client: TestClient) -> None:
    """Runs, runs over each other and the summary: SVG that stands alone, as an attachment."""
    first, second = (run["id"] for run in client.get("/v1/runs?limit=2").json()["runs"])
    addresses = [
        f"/runs/{first}/trace.svg",
        f"/runs/{first}/forecast.svg",
        f"/compare.svg?run={first}&run={second}",
        *(f"/summary/{name}.svg?sheet=" for name in ("flags", "late-weeks", "outside-hours")),
    ]
    for address in addresses:
        answer = client.get(address)
        assert "image/svg+xml" == answer.headers["content-type"]
        assert ".svg" in answer.headers["content-disposition"]
        root = ET.fromstring(answer.text)
        assert "{http://www.w3.org/2000/svg}svg" == root.tag
        assert root.get("viewBox")
    assert 404 == client.get("/summary/nothing.svg").status_code
    pages = (f"/runs/{first}", f"/compare?run={first}&run={second}", "/summary")
    linked = {
        link.split("?")[0]
        for page in pages
        for link in re.findall(r'href="([^"]+\.svg[^"]*)"', client.get(page).text)
    }
    assert {address.split("?")[0] for address in addresses} <= linked


def estimated(lines: list[dict[str, object]]) -> dict[str, dict[float, float]]:
    """Points of the lines that are not measured, by name; a band is told by its lower edge."""
    found = {}
    for line in lines:
        points = {x: y for x, y in line["points"] if y is not None}  # type: ignore[attr-defined]  # JSON
        if line["upper"] is not None or line["stroke"] != "whole":
            found[str(line["name"])] = points
    return found


def test_the_trace_draws_what_the_station_believed(folder: DeskSettings) -> None:
    """Developer with two standard deviations, and bath, up to the pour, each told in the legend."""
    run = tell_alone(folder.journal, Story())
    client = local(folder)
    told = client.get(f"/v1/runs/{run}").json()
    pour = told["steps"][1]["began_after_seconds"] / 60
    logged = {round(one["after_seconds"] / 60, 3): one for one in told["forecasts"]}
    lines = client.get(f"/runs/{run}/trace.json").json()["lines"]
    found = estimated(lines)
    middle = found["developer, estimated"]
    assert len(middle) > 20
    assert max(middle) == pytest.approx(pour, abs=6 / 60)
    low = found["two standard deviations"]
    high = {x: y for line in lines if line["upper"] for x, y in line["upper"]}
    for x, y in middle.items():
        assert y == pytest.approx(logged[x]["developer_celsius"], abs=0.002)
        assert high[x] - low[x] == pytest.approx(4 * logged[x]["developer_sd"], abs=0.004)
    assert found["bath, estimated"].keys() == middle.keys()
    drawn = client.get(f"/runs/{run}/trace.svg").text
    assert all(f">{name}</text>" in drawn for name in found)


def test_a_guess_before_the_first_reading_is_not_drawn() -> None:
    """A belief that is 3 degrees wide to each side is a gap, and so are minutes of silence."""
    nothing = Quantiles(None, None, None)

    def at(seconds: float, sd: float) -> Promise:
        return Promise(seconds, nothing, nothing, 0.0, 21.0, sd, None, None)

    made = [at(5.0, 3.0), at(10.0, 0.4), at(15.0, 0.4), at(200.0, 0.4), at(205.0, 0.4)]
    points = of_run.estimates(made, 202.0, lambda one: (one.developer_celsius, one.developer_sd))
    assert [None, 21.0, 21.0, None, 21.0] == [y for _, y in points]


def test_a_night_of_estimates_is_one_line() -> None:
    """Twelve hours of them are thinned, and no gap comes of it."""
    nothing = Quantiles(None, None, None)
    made = [Promise(5.0 * n, nothing, nothing, 0.0, 21.0, 0.1, None, None) for n in range(12 * 720)]
    points = of_run.estimates(made, None, lambda one: (one.developer_celsius, one.developer_sd))
    assert 100 < len(points) <= 400
    assert {21.0} == {y for _, y in points}


def test_compared_runs_reach_the_pour(client: TestClient) -> None:
    """Every run has its developer and its bath, and the axis of both charts ends at minute 0."""
    runs = ids_of(client)[:3]
    query = "&".join(f"run={run}" for run in runs)
    chart = client.get(f"/compare.json?{query}").json()
    assert [0.0] == chart["reach"]
    named = [line["name"] for line in chart["lines"] if line["name"]]
    assert 3 == len([name for name in named if name.startswith("bath of ")])
    assert 3 == len([line for line in chart["lines"] if line["upper"]])
    assert 6 == len(set(named))
    drawn = client.get(f"/compare.svg?{query}").text
    right = float(re.findall(r'x="([\d.]+)" y="293.0" text-anchor="middle"[^>]*>0<', drawn)[0])
    assert right == pytest.approx(svg.WIDTH - 12, abs=0.5)


def test_a_long_legend_goes_into_rows() -> None:
    """No name of the legend reaches beyond the picture, and the lines begin below the last row."""
    names = [f"probe number {number} in the developer" for number in range(5)]
    lines = tuple(Line(name, [(0.0, 1.0), (1.0, 2.0)], stroke=Stroke.DOTTED) for name in names)
    drawn = svg.draw(Chart("t", "s", "x", "y", lines))
    places = re.findall(r'x="([\d.]+)" y="([\d.]+)"[^>]*>probe number', drawn)
    assert 5 == len(places)
    assert all(float(x) + 6.6 * len(names[0]) < svg.WIDTH for x, _ in places)
    tops = [float(y) for y in re.findall(r'points="[\d.]+,[\d.]+ [\d.]+,([\d.]+)"', drawn)]
    assert min(tops) > max(float(y) for _, y in places)


def test_dotted_lines_are_told_apart_without_colours() -> None:
    """On paper the baths of four runs have their dots by ones, twos, threes and fours."""
    inks = ("one", "two", "three", "four")
    points = [(0.0, 1.0), (1.0, 2.0)]
    lines = tuple(Line(ink, points, ink, Stroke.DOTTED) for ink in inks)
    drawn = svg.draw(Chart("t", "s", "x", "y", lines))
    assert 4 == len(set(re.findall(r'<polyline[^>]*stroke-dasharray="([\d ]+)"', drawn)))


def test_large_numbers_of_bars_lie_in_the_picture() -> None:
    """A share of a thousand runs and more ends before the picture does."""
    text = bars.draw("Window", [bars.Bar("one reel 20", 774, 1000, "774 of 1000")])
    begins = re.search(r'x="(\d+)"[^>]*>774 of 1000<', text)
    assert begins is not None
    assert int(begins[1]) + 8.0 * len("774 of 1000") <= 420
