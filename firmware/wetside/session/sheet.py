"""Process sheets: the sequence of steps for one kind of roll, written as a TOML file.

docs/sheets.md explains every key with an example. A sheet that loads is complete: the
station needs nothing else to take a roll through.
"""

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Self

from pydantic import BeforeValidator, Field, model_validator

from wetside.development import problems
from wetside.development.film import WIDE, Film, rolls
from wetside.development.law import SAME_CELSIUS
from wetside.development.limits import Refused, Span
from wetside.development.mixing import tank_millilitres
from wetside.development.spec import Development, parse_clock
from wetside.development.tank import Stands
from wetside.errors import SheetError, UnitsError
from wetside.outlook import MOST_MILLILITRES, MOST_TOLERANCE_CELSIUS, Setup, Wall
from wetside.session.agitation import Agitation, Pattern
from wetside.session.law_words import two_times
from wetside.tomlfile import Format, Table, shaped

#: Longest text of one line on the display, in characters; the panels' tests measure pixels.
LINE_CHARACTERS = 21

#: No step is longer.
LONGEST_SECONDS = 7200.0

#: Temper, develop, hang; what else there has to be is told by name.
LEAST_STEPS = 3

#: How long before the end of a step the next one is prepared, unless the sheet says otherwise.
PREPARE_SECONDS = 60.0

ShortText = Annotated[str, Field(min_length=1, max_length=LINE_CHARACTERS)]
Sentence = Annotated[str, Field(min_length=1, max_length=200)]
Celsius = Annotated[float, Field(ge=5, le=50)]


def _clock_or_seconds(given: object) -> object:
    """A time such as ``"7:30"`` as its seconds, anything else as it is."""
    if isinstance(given, str) and ":" in given:
        try:
            return parse_clock(given)
        except UnitsError as error:
            raise ValueError(f"{error}, or seconds such as 450") from None
    return given


Seconds = Annotated[float, BeforeValidator(_clock_or_seconds), Field(ge=5, le=LONGEST_SECONDS)]

#: A sheet's time and its law's time are the same if they differ by no more than this.
_SAME_SECONDS = 1.0


class StepKind(StrEnum):
    """The trade's names of the steps, in their usual order."""

    TEMPER = "temper"
    DEVELOP = "develop"
    STOP = "stop"
    FIX = "fix"
    RINSE = "rinse"
    CLEAR = "clear"
    WASH = "wash"
    WET = "wet"
    HANG = "hang"


class Afterwards(StrEnum):
    """What happens to the solution when the step is over."""

    DISCARD = "discard"
    RETURN = "return"
    COLLECT = "collect"


class Step(Table):
    """One step of a sheet.

    ``seconds`` counts from the moment pouring in begins to the moment the tank is empty, so
    the ``drain_seconds`` are its last part. A temper step has a target and no time; a hang
    step has neither. ``development`` says how the time of a develop step follows the
    temperature; its times begin with the full tank.
    """

    kind: StepKind
    solution: ShortText | None = None
    seconds: Seconds | None = None
    celsius: Celsius | None = None
    tolerance_celsius: Annotated[float, Field(gt=0, le=MOST_TOLERANCE_CELSIUS)] | None = None
    allowed_step_celsius: Annotated[float, Field(gt=0, le=20)] | None = None
    volume_millilitres: Annotated[float, Field(gt=0, le=MOST_MILLILITRES)] | None = None
    agitation: Agitation = Agitation(pattern=Pattern.NONE)
    fill_seconds: Annotated[float, Field(ge=0, le=60)] = 10.0
    drain_seconds: Annotated[float, Field(ge=0, le=60)] = 10.0
    afterwards: Afterwards | None = None
    prepare: ShortText | None = None
    prepare_seconds: Annotated[float, Field(ge=0, le=900)] = PREPARE_SECONDS
    can_wait: bool = False
    grace_seconds: Annotated[float, Field(ge=1, le=600)] = 10.0
    development: Development | None = None
    cautions: tuple[Sentence, ...] = ()

    @property
    def name(self) -> str:
        """What people call the step."""
        return str(self.kind)

    @property
    def span(self) -> Span:
        """What a time that is not the sheet's own must keep to."""
        return Span(self.fill_seconds + self.drain_seconds, LONGEST_SECONDS)

    @model_validator(mode="after")
    def _keys_fit_each_other(self) -> Self:
        if self.tolerance_celsius is not None and self.celsius is None:
            raise ValueError("tolerance_celsius needs celsius beside it")
        # a sheet in the journal names every key, so what stands at its default says nothing
        if self.prepare_seconds != PREPARE_SECONDS and self.prepare is None:
            raise ValueError("prepare_seconds needs prepare beside it: what is to be prepared?")
        if self.can_wait and self.kind not in {StepKind.RINSE, StepKind.WASH}:
            raise ValueError(f"can_wait is for rinse and wash: film cannot wait in {self.kind}")
        if self.development is not None and self.kind is not StepKind.DEVELOP:
            raise ValueError(f"development: belongs to the develop step, not to {self.kind}")
        if self.allowed_step_celsius is not None and self.celsius is None:
            raise ValueError("allowed_step_celsius needs celsius beside it")
        return self

    @model_validator(mode="after")
    def _fits_its_kind(self) -> Self:
        if self.kind is StepKind.TEMPER:
            if self.celsius is None or self.tolerance_celsius is None:
                raise ValueError("a temper step needs celsius and tolerance_celsius")
            if self.seconds is not None:
                raise ValueError("a temper step has no seconds: it lasts until the window")
        elif self.kind is StepKind.HANG:
            if self.seconds is not None:
                raise ValueError("a hang step has no seconds: the run ends when the film hangs")
        elif self.seconds is None:
            raise ValueError(f"a {self.kind} step needs seconds")
        elif self.solution is None:
            raise ValueError(f"a {self.kind} step needs a solution")
        elif self.fill_seconds + self.drain_seconds >= self.seconds:
            raise ValueError(
                f"filling ({self.fill_seconds:g} s) and draining ({self.drain_seconds:g} s) "
                f"leave nothing of {self.seconds:g} s"
            )
        return self


class Sheet(Table):
    """A checked process sheet."""

    format: Format
    name: Annotated[
        str,
        shaped(
            r"[A-Za-z0-9][A-Za-z0-9 .-]{0,15}",
            "1 to 16 letters A to Z, digits, spaces, dots or hyphens, a letter or digit first",
        ),
    ]
    title: Sentence
    reels: Annotated[int, Field(ge=1, le=8)] = 1
    film: Film | None = None
    films_per_reel: Annotated[int, Field(ge=1, le=12)] | None = None
    vessel: Wall | None = None
    tank: Wall | None = None
    tank_stands: Stands | None = None
    cautions: tuple[Sentence, ...] = ()
    step: tuple[Step, ...]

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        kinds = [step.kind for step in self.step]
        # counted here, where every step is known to be one: a wrong step is not a missing one
        if len(kinds) < LEAST_STEPS:
            raise ValueError(f"step: must have at least {LEAST_STEPS} items, not {len(kinds)}")
        if kinds[0] is not StepKind.TEMPER:
            raise ValueError("step[1].kind: the first step is temper")
        if kinds[-1] is not StepKind.HANG:
            raise ValueError(f"step[{len(kinds)}].kind: the last step is hang")
        for kind in (StepKind.TEMPER, StepKind.DEVELOP, StepKind.HANG):
            if kinds.count(kind) != 1:
                raise ValueError(
                    f"a sheet has exactly one {kind} step, this one {kinds.count(kind)}"
                )
        if kinds[1] is not StepKind.DEVELOP:
            raise ValueError("step[2].kind: develop follows temper")
        if StepKind.FIX not in kinds:
            raise ValueError("a sheet without a fix step leaves film that light destroys")
        for earlier, later in (
            (StepKind.STOP, StepKind.FIX),
            (StepKind.FIX, StepKind.CLEAR),
            (StepKind.FIX, StepKind.WASH),
            (StepKind.WASH, StepKind.WET),
        ):
            if (
                earlier in kinds
                and later in kinds
                and kinds.index(earlier) > len(kinds) - 1 - kinds[::-1].index(later)
            ):
                raise ValueError(f"{later} stands before {earlier}")
        problems.raise_together(self._against_the_law())
        return self

    def _against_the_law(self) -> list[str]:
        """Where the steps and the law of development contradict each other."""
        develop = self.develop
        law = develop.development
        if self.tank is Wall.GLASS:
            return ["tank: must be 'plastic' or 'steel', not 'glass'"]
        if law is None or develop.seconds is None:
            return []
        if abs(law.nominal_celsius - (self.temper.celsius or 0.0)) > SAME_CELSIUS:
            nominal = f"step[2].development.nominal_celsius: {law.nominal_celsius:g}"
            return [
                (
                    f"{nominal} is not the temper step's celsius ({self.temper.celsius:g}); "
                    "write one temperature in both, and the time for it"
                )
            ]
        timed = law.time_at(law.nominal_celsius)
        assert not isinstance(timed, Refused)  # noqa: S101  # the law was checked for it
        whole = timed.seconds + develop.fill_seconds
        if abs(whole - develop.seconds) <= _SAME_SECONDS:
            return []
        said = two_times(law, timed.seconds, develop.seconds, develop.fill_seconds)
        return [f"step[2].seconds: {said}"]

    @property
    def rolls(self) -> float:
        """Film in the tank as rolls of 80 square inches; a 36 exposure roll a reel unless said."""
        return rolls(self.film or Film.SMALL_36, self.reels * (self.films_per_reel or 1))

    @property
    def reels_millilitres(self) -> float:
        """What covers its reels where no volume is given; a plastic tank of 135 unless said."""
        figure = tank_millilitres(self.tank or Wall.PLASTIC, wide=self.film in WIDE)
        return self.reels * figure.value

    def filling_millilitres(self, step: Step) -> float:
        """Volume of a step: as the sheet has it, else the developer's, else by the reels."""
        given = step.volume_millilitres or self.temper.volume_millilitres
        return self.reels_millilitres if given is None else given

    @property
    def temper(self) -> Step:
        """The tempering step, always the first."""
        return self.step[0]

    @property
    def develop(self) -> Step:
        """The developing step, always the second."""
        return self.step[1]

    def setup(self) -> Setup:
        """What the thermal core is told before the first reading."""
        temper = self.temper
        assert temper.celsius is not None  # noqa: S101  # checked when the sheet was loaded
        assert temper.tolerance_celsius is not None  # noqa: S101  # the same
        return Setup(
            target_celsius=temper.celsius,
            tolerance_celsius=temper.tolerance_celsius,
            wall=self.vessel,
            volume_millilitres=temper.volume_millilitres,
        )


def parse(text: str, name: str) -> Sheet:
    """Check the text of a sheet; ``name`` is the file for the message.

    Raises
    ------
    SheetError
        Names the file, every wrong key and the reason.
    """
    return problems.parse(text, Sheet, name, SheetError)


def load(path: Path) -> Sheet:
    """Read a sheet from its file.

    Raises
    ------
    SheetError
        Names the file, every wrong key and the reason.
    """
    return problems.load(path, Sheet, SheetError)


def shipped_folder() -> Path:
    """Folder of the sheets that come with wetside."""
    return Path(__file__).with_name("sheets")


def available(folders: Sequence[Path]) -> list[Path]:
    """Sheet files in ``folders``, by name; a file in an earlier folder hides its namesakes."""
    found: dict[str, Path] = {}
    for folder in folders:
        for path in sorted(folder.glob("*.toml")):
            found.setdefault(path.name, path)
    return [found[name] for name in sorted(found)]
