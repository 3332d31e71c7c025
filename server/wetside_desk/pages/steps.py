"""What the steps of a run are called where a kind of step comes more than once. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from wetside_desk.pages import words

#: A step among those of its run: its kind, and the how many-th of that kind it is.
Place = tuple[str, int]


def places(kinds: Iterable[str]) -> list[Place]:
    """The place of each step of a run.

    Examples
    --------
    >>> places(["fix", "wash", "wash"])
    [('fix', 1), ('wash', 1), ('wash', 2)]
    """
    seen: Counter[str] = Counter()
    found = []
    for kind in kinds:
        seen[kind] += 1
        found.append((kind, seen[kind]))
    return found


def together(runs: Sequence[Sequence[Place]]) -> list[Place]:
    """The places of all runs in one order: what a run has more stands behind its own step before.

    Examples
    --------
    >>> [kind for kind, _ in together([[("fix", 1), ("hang", 1)], [("fix", 1), ("rinse", 1)]])]
    ['fix', 'rinse', 'hang']
    """
    found: list[Place] = []
    for run in runs:
        behind = 0
        for place in run:
            if place not in found:
                found.insert(behind, place)
            behind = found.index(place) + 1
    return found


def name(place: Place, among: Iterable[Place]) -> str:
    """A step in words, with its number where its kind comes again.

    Examples
    --------
    >>> name(("wash", 1), [("wash", 1), ("wash", 2)]), name(("fix", 1), [("fix", 1)])
    ('Wash 1', 'Fix')
    """
    kind, number = place
    return f"{words.step(kind)} {number}" if (kind, 2) in among else words.step(kind)


def names(kinds: Sequence[str]) -> list[str]:
    """The steps of one run in words."""
    found = places(kinds)
    return [name(place, found) for place in found]
