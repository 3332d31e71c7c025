"""Which class the shelf is looked at for, while one is on."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

import pytest
from starlette.testclient import TestClient

from wetside_desk import schooltime

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.desk import stocked
    from tests.desk.asking import PAGE
    from tests.desk.invented import Story, local, tell_alone

    from wetside_desk.settings import DeskSettings
else:
    import desk_stocked as stocked
    from desk_asking import PAGE
    from desk_invented import Story, local, tell_alone

#: A Tuesday: from 10:00 to 11:40 the studio's sixteen students have a tank each.
OPENS = datetime(2025, 11, 18, 10, 0)  # noqa: DTZ001  # a bell table has no zone


@pytest.fixture
def studio(folder: DeskSettings) -> Iterator[TestClient]:
    """The studio's first tank was begun at its bell and hangs."""
    tell_alone(folder.journal, Story(wall=OPENS.timestamp(), sample_every=60.0))
    stocked.put(folder)
    with local(folder) as client:
        client.headers.update(PAGE)
        yield client


@pytest.mark.parametrize(
    ("clock", "said", "tanks"),
    [
        ("09:50", "<strong>Tuesday 10:00</strong>, period <bdi>3-4</bdi>", 16),
        ("10:45", "15 tanks to come; 1 of this class ended and is counted", 15),
        ("11:20", "<strong>Wednesday 09:05</strong>, period <bdi>2</bdi>", 12),
    ],
)
def test_of_a_class_that_is_on_only_the_rest_is_played_through(
    studio: TestClient, monkeypatch: pytest.MonkeyPatch, clock: str, said: str, tanks: int
) -> None:
    """What hangs is counted already, and once nothing can be begun the next class is told."""
    hour, minute = map(int, clock.split(":"))
    monkeypatch.setattr(schooltime, "now", lambda: OPENS.replace(hour=hour, minute=minute))
    text = studio.get("/shelf").text
    assert said in text
    assert f"of {tanks} tanks; mix before class" in text
