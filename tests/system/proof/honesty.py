"""Is what the station says about the time without power so? The host knows, it has the plug."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from proof.machine import ProofError

#: Seconds of the host: both starts read a clock chip that counts whole seconds, and a console line
#: is late.
ALLOWED = 2.5


@dataclass(frozen=True, slots=True)
class Gap:
    """What was told about a gap and what it was, in seconds of the station's time."""

    told_seconds: float | None
    at_least: float
    true_seconds: float

    def line(self) -> str:
        """A few words."""
        if self.told_seconds is None:
            return f"gap told at least {self.at_least:.0f} s, was {self.true_seconds:.0f} s"
        return f"gap told {self.told_seconds:.0f} s, was {self.true_seconds:.0f} s"


class Boots:
    """When each boot's clock stood at zero, on the host's clock, and whether it had a clock chip.

    Parameters
    ----------
    speed
        How fast the station's time runs.
    """

    def __init__(self, speed: float) -> None:
        self._speed = speed
        self._zero: dict[str, float] = {}
        self._chip: dict[str, bool] = {}

    def seen(self, boot: str, chip: bool, at: float, uptime: float) -> None:
        """A line arrived at a moment of the host; the guest wrote it at that uptime."""
        zero = at - uptime  # a line can only come late
        self._zero[boot] = min(zero, self._zero.get(boot, zero))
        self._chip[boot] = chip

    def judge(self, gap: dict[str, Any]) -> Gap | None:
        """Compare what was told with what was; None where the host missed the boot before.

        Raises
        ------
        ProofError
            The gap is wrong, or told as known without two clock chips, or not told with them.
        """
        last, now = gap["last_boot"], gap["boot"]
        if last not in self._zero:
            return None
        ended = self._zero[last] + gap["last_ms"] / 1000.0 / self._speed
        began = self._zero[now] + gap["now_ms"] / 1000.0 / self._speed
        found = Gap(gap["seconds"], gap["at_least"], (began - ended) * self._speed)
        allowed = ALLOWED * self._speed
        chips = self._chip[last] and self._chip[now]
        if chips != (found.told_seconds is not None):
            raise ProofError(f"clock chips at both ends: {chips}, but told {gap}")
        if found.told_seconds is not None:
            if abs(found.told_seconds - found.true_seconds) > allowed:
                raise ProofError(f"{found.line()}: {gap}")
        elif found.at_least > found.true_seconds + allowed or gap["at_most"] is not None:
            raise ProofError(f"{found.line()}: {gap}")
        return found
