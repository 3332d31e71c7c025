"""The board: the words for what the station says, and the page without script."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from wetside_desk import live
from wetside_desk.pages import board

if TYPE_CHECKING:
    from tests.desk.invented import YOUNG, local, write_live

    from wetside_desk.settings import DeskSettings
else:
    from desk_invented import YOUNG, local, write_live


def test_board_without_a_station_is_a_plain_sentence(folder: DeskSettings) -> None:
    """Nobody at the sink is helped by the path of a file."""
    words = board.words(live.read(folder.live_file))
    assert "Not running" == words["head"]
    assert "It starts with the device at the sink. Is that switched on?" == words["note"]


def test_board_counts_down_while_tempering(folder: DeskSettings) -> None:
    """The board gives the median wait and its interval."""
    write_live(folder.live_file)
    words = board.words(live.read(folder.live_file))
    assert "3:01" == words["big"]
    assert "until ready; between 2:30 and 3:50" == words["range"]
    assert "calm" == words["tone"]


def test_board_says_when_it_will_not_get_there(folder: DeskSettings) -> None:
    """A forecast without an end is put into words, not into a number."""
    write_live(
        folder.live_file,
        outlook={"ready_in": {"p05": None, "p50": None, "p95": None}, "never": 0.9},
    )
    words = board.words(live.read(folder.live_file))
    assert "will not get there within the hour without help" == words["range"]
    assert "hand" == words["tone"]


NEVER = {"ready_in": {"p05": None, "p50": None, "p95": None}, "never": 0.6}


WAYS = [
    {"kind": "swap to another bath", "words": "needs bath of 31 °C", "ready_in": 574.0},
    {"kind": "add hot water to the bath", "words": "add 1.3 L hot water", "ready_in": 600.0},
]


def test_the_board_gives_the_advice_of_the_display(folder: DeskSettings) -> None:
    """The best way and how soon it helps, in the teacher's unit, and not among the words aloud."""
    write_live(folder.live_file, outlook=NEVER, advice={"ways": WAYS, "check_dip": None})
    now = live.read(folder.live_file)
    words = board.words(now)
    assert "Needs bath of 31 °C; it is ready then in 9:34." == words["advice"]
    assert "Needs bath of 88 °F; it is ready then in 9:34." == board.words(now, "F")["advice"]
    assert "without help" in words["needs"]
    assert "9:34" not in words["said"]
    assert "Needs bath of 31 °C" in local(folder).get("/live").text


def test_the_board_asks_for_a_dip_where_the_display_does(folder: DeskSettings) -> None:
    """Where only a dip tells, neither a wait nor help for the bath stands there."""
    write_live(folder.live_file, outlook=NEVER, advice={"ways": WAYS}, only_a_dip_tells=True)
    words = board.words(live.read(folder.live_file))
    assert ("", "it may be ready now", "") == (words["big"], words["range"], words["advice"])
    assert words["needs"].startswith("Dip the probe into the developer")
    assert "without help" not in words["needs"]


@pytest.mark.parametrize(
    "changes",
    [
        {"advice": {"ways": WAYS}},
        {"outlook": NEVER, "advice": {"ways": []}},
        {"outlook": NEVER, "advice": {"ways": [{"words": "", "ready_in": 5.0}]}},
        {"outlook": NEVER, "advice": None},
        {"outlook": NEVER, "advice": {"ways": WAYS}, "state": "running"},
    ],
)
def test_without_need_or_way_there_is_no_advice(
    folder: DeskSettings, changes: dict[str, object]
) -> None:
    """A developer that gets there by itself is left alone, and so is one that was poured."""
    write_live(folder.live_file, YOUNG, **changes)
    assert "" == board.words(live.read(folder.live_file))["advice"]


def test_the_board_repeats_the_whole_display(folder: DeskSettings) -> None:
    """Every word counts, also the one beside the big number."""
    screen = {"head": "to 20.0 °C", "big": "17.0", "text": "to 20.0 °C in bath 17.0 ±0.3 °C never"}
    write_live(folder.live_file, screen=screen)
    assert screen["text"] == board.words(live.read(folder.live_file))["screen"]


@pytest.mark.parametrize("state", ["ready", "handover", "late", "holding", "interrupted"])
def test_board_says_what_needs_a_hand(folder: DeskSettings, state: str) -> None:
    """Each state that waits for somebody says for what."""
    write_live(folder.live_file, state=state)
    assert board.words(live.read(folder.live_file))["needs"]


@pytest.mark.parametrize("state", ["idle", "running", "finished", "abandoned"])
def test_board_tells_of_no_developer_that_is_not_there(folder: DeskSettings, state: str) -> None:
    """After the pour, or without a roll, an old estimate stays away; a probe in the bath counts."""
    write_live(folder.live_file, state=state)
    words = board.words(live.read(folder.live_file))
    assert ("", "19.2 °C ± 0.4") == (words["developer"], words["bath"])
    write_live(folder.live_file, state=state, places={"probe": "air"})
    words = board.words(live.read(folder.live_file))
    assert ("", "") == (words["developer"], words["bath"])


def test_board_speaks_in_the_teachers_unit(folder: DeskSettings) -> None:
    """With Fahrenheit chosen, 22.41 C stands as 72.3 F, its spread as wide."""
    write_live(folder.live_file)
    words = board.words(live.read(folder.live_file), "F")
    assert ("72.3 °F ± 0.4", "66.6 °F ± 0.7") == (words["developer"], words["bath"])


def test_board_reads_nothing_aloud_twice(folder: DeskSettings) -> None:
    """The words for screen readers stay the same while only seconds pass."""
    step = {"kind": "develop", "planned_seconds": 430, "agitating": False}
    said = []
    for elapsed in (100.0, 100.5, 130.0):
        write_live(folder.live_file, state="running", step={**step, "elapsed_seconds": elapsed})
        said.append(board.words(live.read(folder.live_file))["said"])
    assert 1 == len(set(said))


def test_live_page_says_it_without_script(folder: DeskSettings) -> None:
    """The page as served already holds every word of the board."""
    write_live(folder.live_file)
    text = local(folder).get("/live").text
    for word in (
        "3:01",
        "22.4 °C",
        "READY IN in bath 3:01 ±0.2 C dev 22.4 C",
        'aria-live="polite"',
    ):
        assert word in text
