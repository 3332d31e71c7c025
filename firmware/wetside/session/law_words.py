"""What is said of a developing time that is not the one of its law: which line to change."""

from wetside.development.law import SAME_CELSIUS
from wetside.development.spec import Development
from wetside.units import clock_text, parse_celsius


def two_times(law: Development, law_seconds: float, seconds: float, fill_seconds: float) -> str:
    """Why ``seconds`` of the step and its law contradict each other, and both ways to mend it.

    ``law_seconds`` is the law's time at its nominal temperature, from the full tank, with its
    factors; the step's ``seconds`` count from the beginning of pouring in, which takes
    ``fill_seconds``.
    """
    whole = law_seconds + fill_seconds
    told = (
        f"{seconds:g} s do not go with development, which gives {clock_text(law_seconds)} at "
        f"{law.nominal_celsius:g} °C from the full tank; filling takes {fill_seconds:g} s. "
        f"Write seconds = {whole:g} here"
    )
    wanted = seconds - fill_seconds
    if wanted < 1:
        return told
    return f"{told}, or {_law_change(law, wanted)}"


def _law_change(law: Development, wanted: float) -> str:
    """How the law comes to a time at its nominal temperature."""
    clock = clock_text(wanted)
    if law.factor:
        return f"change the times of development until they make {clock} with its factors"
    if law.table is None:
        return f'under development nominal_time = "{clock}"'
    for celsius, time in law.table:
        if abs(parse_celsius(celsius) - law.nominal_celsius) <= SAME_CELSIUS:
            row, old = f'["{celsius}", "{clock}"]', f'["{celsius}", "{time}"]'
            return f"in the table of development {row} in place of {old}, and the other rows alike"
    return f"change the table of development until it gives {clock} for that temperature"
