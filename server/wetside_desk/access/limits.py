"""Rate limits in memory: so many tries at once, refilled evenly, for each name and client."""

from __future__ import annotations

import ipaddress
import math
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from wetside_desk.problems import ProblemError

#: Clients remembered at a time; a flood of invented addresses must not fill the memory.
_REMEMBERED = 2000


@dataclass(frozen=True, slots=True)
class Limit:
    """``tries`` at once, one more every ``every_seconds``."""

    name: str
    tries: int
    every_seconds: float


SIGN_IN = Limit("sign-in", 5, 30.0)
#: All together that never signed in: guessing from many addresses is as slow as from one.
SIGN_IN_ALL = Limit("sign-in-all", 20, 10.0)
#: Each network alone: the code has 40 bits and is made anew after ten wrong ones.
FIRST_START = Limit("first-start", 5, 60.0)
LABEL = Limit("label", 20, 5.0)
LABEL_ALL = Limit("label-all", 120, 1.0)


def network_of(address: str) -> str:
    """What tries are counted by: an IPv4 address, or the /64 in which IPv6 addresses are free.

    One laptop can take any number of addresses in its /64 (RFC 8981), so for tries at secrets
    the whole of it counts as one. On one Wi-Fi many devices share it; they have IPv4 beside.
    """
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if isinstance(found, ipaddress.IPv4Address):
        return str(found)
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(ipaddress.IPv6Network((found, 64), strict=False))


def _wait_words(seconds: int) -> str:
    if seconds < 100:  # two figures are read at a glance
        return f"{seconds} seconds"
    return f"{math.ceil(seconds / 60)} minutes"


class Limiter:
    """Counts tries. ``clock`` gives seconds that never go back."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._guard = threading.Lock()
        self._spent: dict[tuple[str, str], tuple[float, float]] = {}

    def take(self, limit: Limit, client: str) -> None:
        """Count one try.

        Raises
        ------
        ProblemError
            Too many; its Retry-After says when the next one is free.
        """
        with self._guard:
            now = self._clock()
            spent, at = self._spent.pop((limit.name, client), (0.0, now))
            spent = max(spent - (now - at) / limit.every_seconds, 0.0)
            allowed = spent + 1 <= limit.tries
            self._spent[limit.name, client] = (spent + 1 if allowed else spent, now)
            while len(self._spent) > _REMEMBERED:
                self._spent.pop(next(iter(self._spent)))
        if not allowed:
            wait = math.ceil((spent + 1 - limit.tries) * limit.every_seconds)
            raise ProblemError(
                "too-many-requests",
                f"Wait {_wait_words(wait)}, then try again.",
                headers={"Retry-After": str(wait)},
            )

    def give_back(self, limit: Limit, client: str) -> None:
        """Uncount one try that was right, so that many right ones are no reason to wait."""
        with self._guard:
            spent, at = self._spent.get((limit.name, client), (0.0, 0.0))
            self._spent[limit.name, client] = (max(spent - 1, 0.0), at)
