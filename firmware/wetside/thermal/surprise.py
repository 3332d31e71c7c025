"""When readings no longer fit: a two-sided cumulative sum of standardised surprise (CUSUM).

E. S. Page, Biometrika 41 (1954) 100. Single wild readings are clipped, so that only several
in a row on the same side raise the alarm.
"""

from __future__ import annotations

_CLIP = 4.0
_ALLOWANCE = 1.0
#: Sum at which a probe whose place was told counts as disturbed, and one that nobody placed as
#: moved, or its liquid as changed: which of them, the readings that follow choose.
_DISTURBED, _MOVED = 14.0, 7.0


def accumulate(misfit: tuple[float, float], standardised: float) -> tuple[float, float]:
    """Add one innovation over its standard deviation to the sums (up, down)."""
    step = max(-_CLIP, min(_CLIP, standardised))
    up, down = misfit
    return max(0.0, up + step - _ALLOWANCE), max(0.0, down - step - _ALLOWANCE)


def alarm(misfit: tuple[float, float], *, told: bool) -> bool:
    """Whether the readings have left the belief; ``told`` where the probe's place is said."""
    return max(misfit) > (_DISTURBED if told else _MOVED)
