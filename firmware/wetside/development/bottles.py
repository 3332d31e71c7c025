"""The shelf file: which bottles stand there, what they hold and who says how long they last.

docs/chemistry.md explains every key with an example. Nothing about a person is kept.
"""

from datetime import date
from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, field_validator, model_validator

from wetside.development import problems
from wetside.development.mixing import Dilution
from wetside.development.problems import raise_together
from wetside.errors import ShelfError, UnitsError
from wetside.tomlfile import Format, Table, shaped

#: A label fits one line of the display.
Label = Annotated[
    str,
    shaped(
        r"[A-Za-z0-9][A-Za-z0-9 .+-]{0,15}",
        "1 to 16 letters A to Z, digits, spaces, dots, plus signs or hyphens, "
        "a letter or digit first",
    ),
]
Days = Annotated[int, Field(ge=1, le=1000)]


class Holds(StrEnum):
    """What is in a bottle."""

    DEVELOPER = "developer"
    STOP = "stop bath"
    FIXER = "fixer"
    CLEARING = "clearing bath"
    WETTING = "wetting agent"


class Usage(StrEnum):
    """How a solution is used."""

    ONCE = "once"
    REUSED = "reused"
    TWO_BATH = "two-bath"


class Colour(StrEnum):
    """Colour of a stop bath's indicator, seen in the bottle."""

    YELLOW = "yellow"
    TURNING = "turning"
    PURPLE = "purple"


class Check(Table):
    """One test of a bottle: a clearing time, or the colour of its indicator."""

    on: date
    clearing_seconds: Annotated[float, Field(gt=0, le=3600)] | None = None
    colour: Colour | None = None
    rolls: Annotated[float, Field(ge=0)] | None = None

    @model_validator(mode="after")
    def _one_result(self) -> Self:
        if (self.clearing_seconds is None) == (self.colour is None):
            raise ValueError("a check has either clearing_seconds or colour")
        return self


class Bottle(Table):
    """One bottle.

    ``rolls_before`` went through it before wetside counted; ``keeps_full_days`` runs from
    ``mixed_on``, ``keeps_opened_days`` from the day it was first drawn from. ``source`` says
    whose the capacity and the days are. ``rolls_as_second_bath`` went through it before it became
    bath 1, on the day ``moved_up_on``, and are no part of its capacity.
    """

    label: Label
    holds: Holds
    strength: str = "stock"
    millilitres: Annotated[float, Field(gt=0, le=50_000)]
    mixed_on: date
    opened_on: date | None = None
    use: Usage
    bath: Annotated[int, Field(ge=1, le=2)] | None = None
    rolls_per_litre: Annotated[float, Field(gt=0, le=200)] | None = None
    rolls_before: Annotated[float, Field(ge=0, le=10_000)] = 0.0
    rolls_as_second_bath: Annotated[float, Field(ge=0, le=10_000)] = 0.0
    moved_up_on: date | None = None
    keeps_full_days: Days | None = None
    keeps_opened_days: Days | None = None
    longer_per_roll: Annotated[float, Field(ge=0, le=0.5)] = 0.0
    fresh_clearing_seconds: Annotated[float, Field(gt=0, le=1200)] | None = None
    check_every_rolls: Annotated[float, Field(gt=0, le=1000)] = 10.0
    source: Annotated[str, Field(min_length=3, max_length=120)] = "teacher's own"
    check: tuple[Check, ...] = ()

    @field_validator("strength")
    @classmethod
    def _readable(cls, text: str) -> str:
        try:
            Dilution.parse(text)
        except UnitsError as error:
            raise ValueError(str(error)) from None
        return text

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        raise_together(self._wrong())
        return self

    def _wrong(self) -> list[str]:
        wrong: list[str] = []
        if self.use is Usage.TWO_BATH:
            if self.holds is not Holds.FIXER:
                wrong.append(f"use: only fixer is used as two baths, not {self.holds}")
            if self.bath is None:
                wrong.append("bath: is missing, bath 1 or bath 2 of the two")
        elif self.bath is not None:
            wrong.append(f"bath: belongs to two-bath use only, and this bottle is {self.use}")
        if self.use is Usage.ONCE and self.rolls_per_litre is not None:
            wrong.append("rolls_per_litre: a solution used once has no capacity beyond its volume")
        if self.use is not Usage.ONCE and self.rolls_per_litre is None:
            wrong.append("rolls_per_litre: is missing for a solution that is used again")
        if self.opened_on is not None and self.opened_on < self.mixed_on:
            wrong.append(f"opened_on: {self.opened_on} is before it was mixed, {self.mixed_on}")
        if self.fresh_clearing_seconds is not None and self.holds is not Holds.FIXER:
            wrong.append(f"fresh_clearing_seconds: belongs to fixer, this is {self.holds}")
        if self.longer_per_roll and not (
            self.holds is Holds.DEVELOPER and self.use is Usage.REUSED
        ):
            wrong.append("longer_per_roll: belongs to a reused developer")
        wrong.extend(self._wrong_move_up())
        wrong.extend(self._wrong_checks())
        return wrong

    def _wrong_move_up(self) -> list[str]:
        rolls, on = self.rolls_as_second_bath, self.moved_up_on
        if not rolls:
            return [] if on is None else ["moved_up_on: belongs beside rolls_as_second_bath"]
        if self.bath != 1:
            return ["rolls_as_second_bath: belongs to bath 1 of a two-bath fixer"]
        if on is None:
            return ["moved_up_on: is missing, the day on which bath 2 became this bath 1"]
        if on < self.mixed_on:  # a new filling was never bath 2
            reason = f"{on} is before it was mixed, {self.mixed_on}"
            neither = "a new filling has neither moved_up_on nor rolls_as_second_bath"
            return [f"moved_up_on: {reason}; {neither}"]
        return []

    def _wrong_checks(self) -> list[str]:
        wrong: list[str] = []
        for place, check in enumerate(self.check, start=1):
            if check.on < self.mixed_on:
                wrong.append(f"check[{place}].on: {check.on} is before the bottle was mixed")
            if check.colour is not None and self.holds is not Holds.STOP:
                wrong.append(f"check[{place}].colour: belongs to stop bath, this is {self.holds}")
            if check.clearing_seconds is not None and self.fresh_clearing_seconds is None:
                wrong.append(
                    f"check[{place}].clearing_seconds: needs fresh_clearing_seconds to compare"
                )
        return wrong

    @property
    def litres(self) -> float:
        """Volume in litres."""
        return self.millilitres / 1000.0

    @property
    def capacity_rolls(self) -> float | None:
        """Rolls of 80 square inches it takes; None if it is used once.

        None for bath 2 as well: bath 1 takes the silver, and what bath 2 takes begins to count
        when it becomes bath 1.
        """
        if self.rolls_per_litre is None or self.bath == 2:
            return None
        return self.rolls_per_litre * self.litres


class ShelfFile(Table):
    """All bottles of one shelf."""

    format: Format
    bottle: tuple[Bottle, ...] = ()

    @model_validator(mode="after")
    def _labels_once(self) -> Self:
        places: dict[str, int] = {}
        wrong: list[str] = []
        for place, bottle in enumerate(self.bottle, start=1):
            first = places.setdefault(bottle.label.casefold(), place)
            if first != place:
                wrong.append(
                    f"bottle[{place}].label: {bottle.label!r} is already bottle[{first}]; "
                    "two bottles need two labels"
                )
        baths = {bottle.bath for bottle in self.bottle if bottle.use is Usage.TWO_BATH}
        if len(baths) == 1:
            wrong.append(
                f"bottle: a two-bath fixer needs both baths, only bath {baths.pop()} is here"
            )
        raise_together(wrong)
        return self

    def named(self, label: str) -> Bottle:
        """The bottle with this label.

        Raises
        ------
        KeyError
            There is none.
        """
        for bottle in self.bottle:
            if bottle.label == label:
                return bottle
        raise KeyError(label)


def parse(text: str, name: str) -> ShelfFile:
    """Check the text of a shelf file; ``name`` is the file for the message.

    Raises
    ------
    ShelfError
        Names the file, every wrong key and the reason.
    """
    return problems.parse(text, ShelfFile, name, ShelfError)
