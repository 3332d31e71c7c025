"""What stands on the display at one moment, in words and numbers. Values only."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Gauge:
    """Where the developer is against its window, as shares 0..1 of a horizontal scale.

    ``low``/``high`` are the window's edges, ``mark`` the developer, ``mark_low``/``mark_high``
    the ends of what is believed about it, ``bath`` the bath or None.
    """

    low: float
    high: float
    mark: float
    mark_low: float
    mark_high: float
    bath: float | None = None


@dataclass(frozen=True, slots=True)
class Notice:
    """One screen.

    Parameters
    ----------
    name
        Name of the screen, for example ``running``.
    head
        First line, left: where the run stands.
    corner
        First line, right: the one number beside it.
    big
        The number or word to be read at arm's length.
    beside
        A short line to the right of the big number, for example ``±0.2 °C``.
    aside_label, aside
        A second number below that, with a small word before it.
    lines
        Up to three lines below, four where nothing is big.
    band
        Whether the first of the lines is an order, shown bold on a lit band.
    progress
        Share 0..1 of the rule under the head, or None.
    gauge
        The thermometer scale, or None.
    inverted
        Dark on light: do it now.
    blank
        Nothing is shown or lit.
    code
        Modules of a QR code that stands at the left, one text a row; words stand beside it.
    secret
        It is only for who stands at the sink: no page may repeat it.
    """

    name: str
    head: str = ""
    corner: str = ""
    big: str = ""
    beside: str = ""
    aside_label: str = ""
    aside: str = ""
    lines: tuple[str, ...] = ()
    band: bool = False
    progress: float | None = None
    gauge: Gauge | None = None
    inverted: bool = False
    blank: bool = False
    code: tuple[str, ...] = ()
    secret: bool = False

    def public(self) -> Notice:
        """The screen as others may see it: of a secret one only what it is about."""
        if not self.secret:
            return self
        return Notice(self.name, head=self.head, lines=("shown at the sink only",))

    def text(self) -> str:
        """All words of the screen in reading order, for logs, tests and people who listen."""
        parts = (
            self.head,
            self.corner,
            self.big,
            self.beside,
            self.aside_label,
            self.aside,
            *self.lines,
        )
        return " ".join(part for part in parts if part)
