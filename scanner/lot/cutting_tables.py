"""The numba loop of the cuttings search: arrays in, arrays out.

Source: P. C. Gilmore and R. E. Gomory, "Multistage cutting stock problems of two and more
dimensions", Operations Research 13 (1965): every rectangle is either taken whole or parted by one
straight cut, small rectangles first.
"""

# numba infers the types; cuttings.py states them.
# ruff: noqa: ANN001, ANN201
# mypy: disallow-untyped-defs=False, disallow-untyped-decorators=False

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def fill_tables(xs, ys, sums, least, count):
    """Fill, small rectangles first, the most units and the choice that gave them."""
    nx, ny = len(xs), len(ys)
    best = np.zeros((nx, nx, ny, ny, count + 1))
    how = np.zeros((nx, nx, ny, ny, count + 1, 3), dtype=np.int16)
    for dx in range(1, nx):
        for dy in range(1, ny):
            for a in range(nx - dx):
                b = a + dx
                for c in range(ny - dy):
                    d = c + dy
                    covered = sums[d, b] - sums[c, b] - sums[d, a] + sums[c, a]
                    across, along = ys[d] - ys[c], xs[b] - xs[a]
                    if covered == 0:
                        for low in least:
                            if across >= low[0] - 1e-9 and along >= low[1] - 1e-9:
                                best[a, b, c, d, 1:] = across * along
                        continue
                    for k in range(1, count + 1):
                        top, way, line, share = 0.0, 0, 0, 0
                        for m in range(a + 1, b):
                            for left in range(k + 1):
                                units = best[a, m, c, d, left] + best[m, b, c, d, k - left]
                                if units > top + 1e-12:
                                    top, way, line, share = units, 1, m, left
                        for m in range(c + 1, d):
                            for left in range(k + 1):
                                units = best[a, b, c, m, left] + best[a, b, m, d, k - left]
                                if units > top + 1e-12:
                                    top, way, line, share = units, 2, m, left
                        best[a, b, c, d, k] = top
                        how[a, b, c, d, k, 0] = way
                        how[a, b, c, d, k, 1] = line
                        how[a, b, c, d, k, 2] = share
    return best, how
