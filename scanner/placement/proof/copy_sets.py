"""All sets of copies within those that one board is asked for, and the strips that make them.

Numbers and lines are those that the loops of `kernels.one_board` go through.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from scanner.placement.kernels import one_board as kernels
from scanner.placement.wanted.items import Floats

Longs = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class CopySets:
    """All sets of copies within what is asked, by number, and all strips of one width in them.

    Attributes
    ----------
    digits
        Copies of each part asked for in each set, (K, T); the last set holds all.
    pair_ptr, pair_set
        Of each set all that are within what is asked together with it, (K + 1,) and (N,).
    less
        Each set without each strip, (K, Z), -1 where it does not hold that.
    strip_ptr, strip_part, strip_before
        The ways to make each strip: a part behind a smaller strip, -1 for none.
    strip_counts
        Copies in each strip, (Z, T).
    """

    digits: Longs
    pair_ptr: Longs
    pair_set: Longs
    less: Longs
    strip_ptr: Longs
    strip_part: Longs
    strip_before: Longs
    strip_counts: Longs


def copy_sets(widths: Longs, copies: Floats) -> CopySets:
    """Return the sets within so many copies of some parts, one at least of each, (T,).

    widths: of the parts, (T,); those of one width share strips.
    """
    full = copies.astype(np.int64)
    unit = np.cumprod(np.concatenate(([1], full[:-1] + 1)))
    digits = np.arange(int(np.prod(full + 1)))[:, None] // unit % (full + 1)
    strips: list[tuple[int, ...]] = []
    for width in np.unique(widths):
        own = np.flatnonzero(widths == width)
        for held in product(*(range(int(full[t]) + 1) for t in own)):
            whole = np.zeros(len(full), np.int64)
            whole[own] = held
            if whole.any():
                strips.append(tuple(whole.tolist()))
    strips.sort(key=sum)
    number = {strip: z for z, strip in enumerate(strips)}
    ptr, part, before = [0], [], []
    for strip in strips:
        for t in np.flatnonzero(strip):
            rest = list(strip)
            rest[t] -= 1
            part.append(int(t))
            before.append(number.get(tuple(rest), -1))
        ptr.append(len(part))
    whole_strips = np.array(strips, np.int64)
    is_held = np.all(digits[:, None, :] >= whole_strips[None], axis=2)
    less = np.where(is_held, np.arange(len(digits))[:, None] - whole_strips @ unit, -1)
    pair_ptr, pair_set = kernels.pairs(digits, unit)
    return CopySets(
        digits, pair_ptr, pair_set, less, np.array(ptr), np.array(part), np.array(before),
        whole_strips,
    )  # fmt: skip
