"""What every request may ask of the desk."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request

from wetside.journal.reader import Reader
from wetside_desk.access.gate import Gate
from wetside_desk.bells.periods import Keeper
from wetside_desk.live import Relay
from wetside_desk.settings import DeskSettings
from wetside_desk.shelf.counting import Counter
from wetside_desk.store.database import Database


@dataclass(frozen=True, slots=True)
class Desk:
    """The parts of one running desk.

    ``relay`` gives the station's state as the API answers it, ``board`` the words of the
    board page, each made once for everybody who watches. ``address`` is what phones open.
    ``counter`` counts ended runs onto the bottles of the shelf, ``periods`` knows in which
    period each run was.
    """

    settings: DeskSettings
    reader: Reader
    database: Database
    gate: Gate
    relay: Relay
    board: Relay
    address: str
    counter: Counter
    periods: Keeper


def desk_of(request: Request) -> Desk:
    """The desk that this request came to."""
    desk: Desk = request.app.state.desk
    return desk


TheDesk = Annotated[Desk, Depends(desk_of)]
