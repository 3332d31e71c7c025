"""How long the power was off before somebody could answer, over one cut or several. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from wetside.session.events import Event
from wetside.units import clock_text


@dataclass(frozen=True, slots=True)
class Outage:
    """So many seconds without power; not ``exact`` where it may have been longer."""

    seconds: float
    exact: bool

    @property
    def text(self) -> str:
        """The same for one line of the display."""
        off = clock_text(self.seconds)
        return f"off for {off}" if self.exact else f"off {off} or longer"

    def with_earlier(self, earlier: Outage) -> Outage:
        """Both together."""
        return Outage(earlier.seconds + self.seconds, earlier.exact and self.exact)


def outage_of(event: Event) -> Outage | None:
    """What a POWER_LOST says of its own cut; None where it gives no seconds."""
    exact, least = event.detail.get("gap_seconds"), event.detail.get("at_least_seconds")
    if isinstance(exact, int | float):
        return Outage(float(exact), exact=True)
    return Outage(float(least), exact=False) if isinstance(least, int | float) else None
