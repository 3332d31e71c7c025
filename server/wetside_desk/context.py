"""What every request may ask of the desk."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request

from wetside.journal.reader import Reader
from wetside_desk.access.certificate import CertificateKeeper
from wetside_desk.access.gate import Gate
from wetside_desk.access.once import Once
from wetside_desk.bells.periods import PeriodKeeper
from wetside_desk.live import Relay
from wetside_desk.settings import DeskSettings
from wetside_desk.shelf.counting import Counter
from wetside_desk.store.database import Database
from wetside_desk.whereabouts import address_of


@dataclass(frozen=True, slots=True)
class Desk:
    """The parts of one running desk.

    ``relay`` gives the station's state as the API answers it, ``board`` the words of the
    board page, each made once for everybody who watches. ``counter`` counts ended runs onto
    the bottles of the shelf, ``periods`` knows in which period each run was. ``certificate``
    keeps the certificate that the desk makes itself, None where it makes none. ``once`` holds
    what a page shows one time.
    """

    settings: DeskSettings
    reader: Reader
    database: Database
    gate: Gate
    relay: Relay
    board: Relay
    counter: Counter
    periods: PeriodKeeper
    once: Once
    certificate: CertificateKeeper | None = None

    @property
    def address(self) -> str:
        """What phones open now."""
        return address_of(self.settings)


def desk_of(request: Request) -> Desk:
    """The desk that this request came to."""
    desk: Desk = request.app.state.desk
    return desk


TheDesk = Annotated[Desk, Depends(desk_of)]
