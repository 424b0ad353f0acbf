"""How many staves each glued-up panel gets: the fewest that place as much on as little wood."""

import itertools
from collections.abc import Callable, Iterable

from scanner.placement.giving.give import Score, is_better
from scanner.placement.layout import Placement
from scanner.placement.parts import Part, PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.staves import Counts, choices_of, is_glued


def counts_fixed(
    placements: Iterable[Placement], was: Iterable[Placement]
) -> dict[tuple[str, int], int]:
    """Return the number of staves of each panel of which something stays as it lay (``was``)."""
    begun = {(p.part, p.copy) for p in placements}
    counts: dict[tuple[str, int], int] = {}
    for p in was:
        if (p.part, p.copy) in begun:
            counts[p.part, p.copy] = max(counts.get((p.part, p.copy), 1), p.stave or 1)
    return counts


def first_counts(parts: PartsList, settled: Counts, shop: Shop) -> dict[tuple[str, int], int]:
    """Return the fewest staves for every panel that is asked for; what is begun stays as it is."""
    counts: dict[tuple[str, int], int] = {}
    for part in parts:
        if is_glued(part):
            own = {key: count for key, count in settled.items() if key[0] == part.name}
            new = ((part.name, n) for n in itertools.count(1) if (part.name, n) not in own)
            missing = max(0, part.quantity - len(own))
            counts |= own
            counts |= dict.fromkeys(itertools.islice(new, missing), choices_of(part, shop)[0])
    return counts


def find_counts(
    parts: PartsList,
    settled: Counts,
    shop: Shop,
    can_hold: Callable[[Part, int], bool],
    trial: Callable[[Counts], Score],
    is_over: Callable[[], bool],
) -> dict[tuple[str, int], int]:
    """Return how many staves each panel gets: fewest, unless more of them place more on less wood.

    ``can_hold`` says whether some board could give a panel in so many staves, ``trial`` lays the
    parts out quickly; all panels of one row are tried with one number.
    """
    counts = first_counts(parts, settled, shop)
    for part in parts:
        if not is_glued(part):
            continue
        free = [key for key in counts if key[0] == part.name and key not in settled]
        choices = choices_of(part, shop)
        if len(choices) == 1 or not free:
            continue
        choices = tuple(count for count in choices if can_hold(part, count))
        best: Score | None = None
        for count in choices:
            tried = {**counts, **dict.fromkeys(free, count)}
            score = trial(tried)
            if best is None or is_better(score, best):
                best, counts = score, tried
            if is_over():
                break
    return counts
