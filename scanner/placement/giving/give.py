"""Finds the sizes of parts that may give: no smaller than it takes to place more on less wood."""

from collections.abc import Callable, Mapping, Sequence

from scanner.placement.giving.sizes import Giving, sized
from scanner.placement.parts import PartsList

# Value placed, and less wood opened: larger is better.
Score = tuple[float, float]
# Halvings between the smallest size and the one wanted: 10 mm are found to a third of a mm.
_HALVINGS = 5
_ALMOST = 1e-9


def find_sizes(
    parts: PartsList,
    givings: Sequence[Giving],
    settled: Mapping[Giving, float],
    trial: Callable[[PartsList], Score],
    is_over: Callable[[], bool],
) -> dict[Giving, float]:
    """Return a size for everything that gives.

    ``trial`` lays the parts out quickly; ``is_over`` says when to try no more. First all at their
    smallest: where that gains nothing all stay as wanted. Then one after another goes back to the
    size wanted, or as near to it as keeps what was gained.
    """
    wanted = {giving: settled.get(giving, giving.wanted_mm) for giving in givings}
    free = [g for g in givings if g not in settled and g.least_mm < g.wanted_mm - _ALMOST]
    if not free or is_over():
        return wanted
    before = trial(sized(parts, wanted))
    sizes = {**wanted, **{giving: giving.least_mm for giving in free}}
    best = trial(sized(parts, sizes))
    if not is_better(best, before):
        return wanted
    for giving in free:
        low, high = giving.least_mm, giving.wanted_mm
        size = high
        for _ in range(_HALVINGS + 1):
            if is_over():
                break
            score = trial(sized(parts, {**sizes, giving: size}))
            if is_better(best, score):
                high = size
            else:
                low, best = size, max(best, score)
                if size == giving.wanted_mm:
                    break
            size = round((low + high) / 2, 1)
        sizes[giving] = low
    return sizes


def is_better(score: Score, other: Score) -> bool:
    """Whether more is placed, or as much on less wood."""
    value, wood = score
    if abs(value - other[0]) > _ALMOST * max(1.0, abs(value)):
        return value > other[0]
    return wood > other[1] + 1.0
