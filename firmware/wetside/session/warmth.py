"""What a sheet's own temperatures say of each other: steps too wide, water and fixer too cold."""

from __future__ import annotations

from wetside.development import baths
from wetside.development.wash import cold_factor
from wetside.session.sheet import Sheet, StepKind

#: A bath that takes so little longer in the cold is not worth a note.
_LITTLE = 1.1


def other_baths(sheet: Sheet) -> tuple[baths.Bath, ...]:
    """The sheet's baths after the developer, in their order."""
    return tuple(
        baths.Bath(str(step.kind), step.celsius, step.allowed_step_celsius)
        for step in sheet.step[2:]
    )


def wide_steps(sheet: Sheet) -> tuple[baths.Step, ...]:
    """Steps of temperature between the sheet's baths that are larger than allowed."""
    nominal = sheet.develop.celsius or sheet.setup().target_celsius
    return baths.too_large(nominal, other_baths(sheet))


def notes(sheet: Sheet) -> tuple[tuple[str, str], ...]:
    """Keys and sentences about temperatures that a teacher should look at."""
    found = [(_key(sheet, step.to_kind), step.text) for step in wide_steps(sheet)]
    for index, step in enumerate(sheet.step, start=1):
        key = f"step[{index}].celsius"
        if step.celsius is None:
            continue
        if step.kind is StepKind.WASH:
            factor = cold_factor(step.celsius)
            if factor is None:
                found.append((key, f"no wash time is printed for water of {step.celsius:g} degC"))
            elif factor >= _LITTLE:
                found.append((key, _longer(step.celsius, factor, "US Army TM 11-2323, for prints")))
        elif step.kind is StepKind.FIX and baths.fix_factor(step.celsius) >= _LITTLE:
            factor = baths.fix_factor(step.celsius)
            found.append((key, _longer(step.celsius, factor, "US Army TM 11-2323")))
        elif step.kind is StepKind.STOP and (caution := baths.swelling_caution(step.celsius)):
            found.append((key, f"{caution} (US Army SS0509-8 p. 15)"))
    return tuple(found)


def _key(sheet: Sheet, kind: str) -> str:
    """The first bath of a kind that has a temperature, as its key in the file."""
    index = next(
        place for place, step in enumerate(sheet.step) if step.kind == kind and step.celsius
    )
    return f"step[{index + 1}].celsius"


def _longer(celsius: float, factor: float, source: str) -> str:
    return (
        f"at {celsius:g} degC it takes {factor:.1f} times as long as at 20 degC ({source}); "
        "do its seconds say so?"
    )
