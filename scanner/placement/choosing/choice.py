"""A choice: which pattern lies on which board."""

from collections.abc import Mapping

import numpy as np

from scanner.placement.choosing.patterns import Pattern, pattern_of
from scanner.placement.wanted.items import Floats, Ints

Choice = Mapping[int, Pattern]


def counts_of(choice: Choice, types: int) -> Ints:
    """Return the copies of each type in a choice."""
    total = np.zeros(types, np.int32)
    for pattern in choice.values():
        total += pattern.counts
    return total


def as_it_lay(choice: Choice, former: Choice) -> dict[int, Pattern]:
    """Return the choice; a board that gives the same parts as before gives them where they lay."""
    return {
        b: former[b]
        if b in former and np.array_equal(former[b].counts, pattern.counts)
        else pattern
        for b, pattern in choice.items()
    }


def stays(pattern: Pattern, former: Choice, value: Floats) -> float:
    """Return the value of what a pattern leaves where it lay in a former choice."""
    if pattern.board not in former:
        return 0.0
    old = former[pattern.board]
    if pattern is old:
        return float(old.counts @ value)
    lay = {place.tobytes() for place in old.places[:, :3]}
    return float(sum(value[p[0]] for p in pattern.places[:, :3] if p.tobytes() in lay))


def value_of(choice: Choice, value: Floats) -> float:
    """Return the value of a choice that holds no copy too many."""
    return float(sum(float(p.counts @ value) for p in choice.values()))


def within(chosen: tuple[Pattern, ...], wanted: Ints) -> dict[int, Pattern]:
    """Return the patterns of a choice without the copies that nobody wants."""
    left = wanted.copy()
    choice = {}
    for pattern in chosen:
        keep = np.ones(len(pattern.places), np.bool_)
        for i, t in enumerate(pattern.places[:, 0]):
            if left[t] <= 0:
                keep[i] = False
            else:
                left[t] -= 1
        choice[pattern.board] = (
            pattern if keep.all() else pattern_of(pattern.board, pattern.places[keep], len(wanted))
        )
    return choice
