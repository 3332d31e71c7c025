"""The normal distribution, as far as intervals ask for it."""

from __future__ import annotations

#: Standard deviations from the middle to the 5 and to the 95 % point.
TO_95_PERCENT = 1.6448536269514722
