"""What every request may ask of the desk: settings and the live relays."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request

from wetside.journal.reader import Reader
from wetside_desk.live import Relay
from wetside_desk.settings import DeskSettings


@dataclass(frozen=True, slots=True)
class Desk:
    """The parts of one running desk.

    ``relay`` gives the station's state as the API answers it, ``board`` the words of the
    board page, each made once for everybody who watches.
    """

    settings: DeskSettings
    reader: Reader
    relay: Relay
    board: Relay


def desk_of(request: Request) -> Desk:
    """The desk that this request came to."""
    desk: Desk = request.app.state.desk
    return desk


TheDesk = Annotated[Desk, Depends(desk_of)]
