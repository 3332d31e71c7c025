"""What to do about the bath, in amounts, and whether a check dip is worth the trouble.

Asked now and then, not at every reading: each answer plays several baths through.
"""

from __future__ import annotations

from wetside.development.choose import Help
from wetside.session.events import Json
from wetside.settings import Supplies
from wetside.thermal.advice import Advice, Kind, advise
from wetside.thermal.belief import Belief
from wetside.thermal.checkdip import DipGain, dip_gain
from wetside.units import celsius_to_fahrenheit, clock_text

#: Water hotter than a hand stands (docs/safety.md, from memory): the display says so.
SCALDS_CELSIUS = 45.0

#: Advice is renewed this often.
EVERY_SECONDS = 10.0


class Adviser:
    """Keeps the latest advice of one station."""

    def __init__(self, at_hand: Supplies) -> None:
        self.ways: tuple[Advice, ...] = ()
        self.dip: DipGain | None = None
        self._supplies = at_hand
        self._next = 0.0

    def forget(self) -> None:
        """Nothing is advised, and the next look advises at once."""
        self.ways, self.dip, self._next = (), None, 0.0

    def look(self, belief: Belief, now: float) -> None:
        """Renew the advice if it is time."""
        if now < self._next:
            return
        self._next = now + EVERY_SECONDS
        self.ways = advise(belief, now, self._supplies)
        self.dip = dip_gain(belief, now)

    def lines(self, *, fahrenheit: bool = False) -> tuple[str, ...]:
        """The best way in lines of the display."""
        hot = self._supplies.hot_tap_celsius
        scalds = hot is not None and hot > SCALDS_CELSIUS
        return lines(self.ways, fahrenheit=fahrenheit, scalds=scalds)

    def help(self) -> Help | None:
        """The best way as something to do first; None where there is nothing to do."""
        if not self.ways or not words(self.ways[0]):
            return None
        best = self.ways[0]
        return Help(words(best), best.ready_in, best.leaves_in)

    def objects(self) -> dict[str, Json]:
        """All of it, for the live file."""
        return objects(self.ways, self.dip)


def words(way: Advice, *, fahrenheit: bool = False) -> str:
    """One way in a line of the display; empty where there is nothing to do."""
    amount = way.amount or 0.0
    if way.kind is Kind.HOT_WATER:
        return f"add {amount:.1f} L hot water"
    if way.kind is Kind.COLD_WATER:
        return f"add {amount:.1f} L cold water"
    if way.kind is Kind.ICE:
        return f"ice in bath: {amount:.0f} g"
    if way.kind is Kind.SWAP:
        degrees = celsius_to_fahrenheit(amount) if fahrenheit else amount
        return f"needs bath of {degrees:.0f} °{'F' if fahrenheit else 'C'}"
    if way.kind is Kind.LIFT:
        return f"lift it out in {clock_text(amount)}"
    return ""


def lines(
    ways: tuple[Advice, ...], *, fahrenheit: bool = False, scalds: bool = False
) -> tuple[str, ...]:
    """The best way in lines of the display, with when it would be ready if it is done now.

    ``scalds`` says that the hot tap is hotter than a hand stands.
    """
    if not ways:
        return ()
    best = ways[0]
    first = words(best, fahrenheit=fahrenheit)
    if not first:
        return ()
    caution = ("tap scalds: pour slowly",) if scalds and best.kind is Kind.HOT_WATER else ()
    then = best.ready_in.p50
    if then is None or best.kind is Kind.LIFT:
        return (first, *caution)
    return (first, *caution, f"ready then in {clock_text(then)}")


def objects(ways: tuple[Advice, ...], dip: DipGain | None) -> dict[str, Json]:
    """Advice for the live file and the API."""
    return {
        "ways": [
            {
                "kind": str(way.kind),
                "amount": None if way.amount is None else round(way.amount, 2),
                "unit": way.unit,
                "words": words(way),
                "reason": way.reason,
                "bath_celsius": round(way.bath_celsius, 2),
                "ready_in": way.ready_in.p50,
                "never": round(way.never, 3),
            }
            for way in ways[:3]
        ],
        "check_dip": None
        if dip is None
        else {
            "interval_seconds": round(dip.width_seconds, 1),
            "expected_interval_seconds": round(dip.expected_width_seconds, 1),
            "worthwhile": dip.worthwhile,
        },
    }
