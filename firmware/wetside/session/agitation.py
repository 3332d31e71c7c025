"""When a tank is moved: the ``agitation`` of a step of a process sheet."""

from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, model_validator

from wetside.tomlfile import Table


class Pattern(StrEnum):
    """How the tank is moved."""

    INTERMITTENT = "intermittent"
    CONTINUOUS = "continuous"
    NONE = "none"


class Agitation(Table):
    """When the tank is moved.

    First ``first_seconds`` from the end of pouring in, then ``for_seconds`` every
    ``every_seconds`` counted from the start of the step.
    """

    pattern: Pattern
    gentle: bool = False
    first_seconds: Annotated[float, Field(ge=0, le=600)] = 0.0
    for_seconds: Annotated[float, Field(ge=1, le=120)] | None = None
    every_seconds: Annotated[float, Field(ge=5, le=600)] | None = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if 0 < self.first_seconds < 1:
            raise ValueError(f"first_seconds is 0 or at least 1, not {self.first_seconds:g}")
        if self.pattern is Pattern.INTERMITTENT:
            if self.for_seconds is None or self.every_seconds is None:
                raise ValueError("intermittent agitation needs for_seconds and every_seconds")
            if self.for_seconds >= self.every_seconds:
                raise ValueError(
                    f"for_seconds ({self.for_seconds:g}) must be shorter than "
                    f"every_seconds ({self.every_seconds:g}); say continuous if it never rests"
                )
        elif self.for_seconds is not None or self.every_seconds is not None or self.first_seconds:
            raise ValueError(
                f"{self.pattern} agitation takes no first_seconds, for_seconds or every_seconds"
            )
        return self
