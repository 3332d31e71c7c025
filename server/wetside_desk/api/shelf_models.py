"""Shapes of /v1/shelf. Volumes in millilitres, times in seconds, film in rolls of 80 sq in."""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, Any, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from wetside.development.bottles import Colour
from wetside.development.care import care
from wetside.development.shelf import Notice, Standing, Use
from wetside.development.testing import verdict
from wetside.development.wash import WashPlan
from wetside_desk.files.papers import FIRST_DAY, LAST_DAY
from wetside_desk.house import Read
from wetside_desk.shelf.lessons import Stock


class NoticeAnswer(BaseModel):
    """One warning. ``stops``: the bottle is not to be used."""

    bottle: str
    trouble: str
    text: str
    stops: bool

    @classmethod
    def of(cls, notice: Notice) -> Self:
        """From the core's notice."""
        return cls(
            bottle=notice.bottle,
            trouble=str(notice.trouble),
            text=notice.text,
            stops=notice.stops,
        )


class BottleTestAnswer(BaseModel):
    """One test of a bottle: ``ratio`` against fresh, ``fix_seconds`` what film needs now."""

    on: date
    clearing_seconds: float | None
    colour: Colour | None
    ratio: float | None
    fix_seconds: float | None
    discard: bool


class BottleAnswer(BaseModel):
    """A bottle and where it stands today."""

    label: str
    holds: str
    strength: str
    use: str
    bath: int | None
    millilitres: float
    mixed_on: date
    opened_on: date | None
    source: str
    rolls: float
    left_rolls: float | None = Field(
        description="null: used once, or bath 2; only its volume counts"
    )
    left_millilitres: float
    strength_left: float = Field(description="part left after carry-over, 1 = all")
    last_good_day: date | None
    times_longer: float
    usable: bool
    notices: list[NoticeAnswer]
    tests: list[BottleTestAnswer]
    cautions: list[str]
    disposal: str
    collect: bool = Field(description="true: never into the sink")

    @classmethod
    def of(cls, one: Standing) -> Self:
        """From the core's standing."""
        bottle = one.bottle
        minded = care(bottle.holds)
        tests = []
        for check in bottle.check:
            said = verdict(bottle, check)
            clearing = said.clearing
            tests.append(
                BottleTestAnswer(
                    on=check.on,
                    clearing_seconds=check.clearing_seconds,
                    colour=check.colour,
                    ratio=clearing.ratio if clearing else None,
                    fix_seconds=clearing.fix_seconds if clearing else None,
                    discard=said.discard,
                )
            )
        return cls(
            label=bottle.label,
            holds=str(bottle.holds),
            strength=bottle.strength,
            use=str(bottle.use),
            bath=bottle.bath,
            millilitres=bottle.millilitres,
            mixed_on=bottle.mixed_on,
            opened_on=bottle.opened_on,
            source=bottle.source,
            rolls=one.rolls,
            left_rolls=one.left_rolls,
            left_millilitres=one.left_millilitres,
            strength_left=one.dilution_left,
            last_good_day=one.last_good_day,
            times_longer=one.times_longer,
            usable=one.usable,
            notices=[NoticeAnswer.of(notice) for notice in one.notices],
            tests=tests,
            cautions=list(minded.cautions),
            disposal=minded.disposal,
            collect=minded.collect,
        )


class FileState(BaseModel):
    """Whether there is a file, and what is wrong with it."""

    there: bool
    problems: list[dict[str, str]] = Field(
        default_factory=list,
        examples=[[{"file": "shelf.toml", "place": "bottle[2].strength", "reason": "a colon ..."}]],
    )

    @classmethod
    def of(cls, read: Read[Any]) -> Self:
        """From a file as it was read."""
        return cls(
            there=read.written.there,
            problems=[
                {"file": read.paper.name, "place": place, "reason": reason}
                for place, reason in read.problems
            ],
        )


class ShelfAnswer(BaseModel):
    """The shelf on a day."""

    on: date
    file: FileState
    bottles: list[BottleAnswer]


def written_day(given: object) -> object:
    """Only ``2031-09-22``: as a number of seconds a day would be one of 1970."""
    if not (isinstance(given, str) and _DAY.fullmatch(given)):
        raise ValueError("must be a date such as 2031-09-22")
    return given


_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")

#: A day in a request.
Day = Annotated[date, BeforeValidator(written_day), Field(strict=False, ge=FIRST_DAY, le=LAST_DAY)]


class _Request(BaseModel):
    """What is sent is taken as it is: ``true`` is no number, and ``"50"`` is none either."""

    model_config = ConfigDict(extra="forbid", strict=True)


class NewTest(_Request):
    """A test that was just done: a clearing time, or the colour seen in the bottle."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"clearing_seconds": 55}]})

    clearing_seconds: float | None = Field(default=None, gt=0, le=3600, allow_inf_nan=False)
    colour: Annotated[Colour, Field(strict=False)] | None = None
    fresh: bool = Field(default=False, description="the bath is fresh: compare later tests with it")


class Renewed(_Request):
    """The bottle was emptied and mixed anew, today or before."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"mixed_on": "2031-09-22"}]})

    mixed_on: Day


class Moved(_Request):
    """Bath 1 was emptied and holds new fixer; ``bath_2`` is the label of the one that follows."""

    model_config = ConfigDict(
        json_schema_extra={"examples": [{"bath_2": "Fixer 2", "mixed_on": "2031-09-22"}]}
    )

    bath_2: str = Field(max_length=16)
    mixed_on: Day


class MovedAnswer(BaseModel):
    """Both baths as they are now."""

    bath_1: BottleAnswer
    bath_2: BottleAnswer


class UseAnswer(BaseModel):
    """One run that went through one bottle."""

    run: str
    bottle: str
    on: date
    rolls: float
    drawn_millilitres: float

    @classmethod
    def of(cls, use: Use) -> Self:
        """From the core's use."""
        return cls(
            run=use.run,
            bottle=use.bottle,
            on=use.on,
            rolls=use.rolls,
            drawn_millilitres=use.drawn_millilitres,
        )


class UseList(BaseModel):
    """Uses of the fillings that stand there, latest first."""

    uses: list[UseAnswer]


class ClassAnswer(BaseModel):
    """What a teacher should know before a class."""

    on: date
    sheet: str
    tanks: int
    notices: list[NoticeAnswer]


class MixingAnswer(BaseModel):
    """What to measure, and the steps in their order: cautions first, water before acid."""

    total_millilitres: float
    strength: str
    concentrate_millilitres: list[float]
    water_millilitres: float
    steps: list[str]


class StockAnswer(BaseModel):
    """What a week takes of one kind; ``millilitres`` of working solution with a tenth spare."""

    holds: str
    bottle: str | None
    bath: int | None = Field(description="1 or 2 of a two-bath fixer: each is a stock of its own")
    tanks: int
    fillings_millilitres: float
    millilitres: float
    concentrate_millilitres: list[float]

    @classmethod
    def of(cls, stock: Stock) -> Self:
        """From the lesson's stock."""
        need = stock.need
        return cls(
            holds=str(stock.holds),
            bottle=stock.bottle.label if stock.bottle else None,
            bath=stock.bottle.bath if stock.bottle else None,
            tanks=stock.tanks,
            fillings_millilitres=stock.millilitres,
            millilitres=need.working_millilitres,
            concentrate_millilitres=list(need.concentrate_millilitres),
        )


class WeekAnswer(BaseModel):
    """The classes of a week and what they take."""

    monday: date
    sheet: str
    classes: int
    stock: list[StockAnswer]


class WashAnswer(BaseModel):
    """A wash by full changes of water, and why it is enough."""

    changes: int
    left_milligrams: float
    allowed_milligrams: float
    text: str
    times_longer_cold: float | None = Field(
        description="running wash in water of this temperature; null: colder than any source says"
    )

    @classmethod
    def of(cls, plan: WashPlan, cold: float | None) -> Self:
        """From the core's plan."""
        return cls(
            changes=plan.changes,
            left_milligrams=plan.left_milligrams,
            allowed_milligrams=plan.allowed_milligrams,
            text=plan.text,
            times_longer_cold=cold,
        )
