"""The numba loop of the match of two ring series: arrays in, numbers out."""

# numba infers the types; ring_match.py states them.
# ruff: noqa: ANN001, ANN201
# mypy: disallow-untyped-defs=False, disallow-untyped-decorators=False

import numpy as np
from numba import njit

# How alike two series of one log are, and how many of their steps tell something of their own.
_RHO, _OWN_SHARE = 0.8, 0.3
# What a change of stretch costs, and being off 1.
_CHANGE, _OFF = 1.0, 0.05
# By so much a series may seem to lie nearer to the pith than the other: taper, and the fit of the
# pith; one sd, steps.
_LAG_SD = 50.0
_NODE, _LEAST_STRETCH, _STRETCHES = 4, 5, 8


@njit(cache=True, nogil=True, fastmath=True)
def best_stretch(a, b, a_first, b_first):
    """Return the likelihood (logarithm) of the best common stretch, its start in ``a``, its steps.

    Both go on by 2 mm of ``a`` at a time, and by 1.25 to 3 mm of ``b``. ``a_first`` and
    ``b_first`` are the steps from the pith to the first values.
    """
    alone = -0.5 * np.log(1 - _RHO * _RHO)
    spread = 1 / (2 * (1 - _RHO * _RHO))
    # Places in b go in half steps, since 2 mm of a may be 1.25 mm of b.
    count = 2 * len(b) - 1
    before = np.full((count + 1, _STRETCHES), -1e9)
    now = np.full((count + 1, _STRETCHES), -1e9)
    before_start = np.zeros((count + 1, _STRETCHES), np.int64)
    now_start = np.zeros((count + 1, _STRETCHES), np.int64)
    best, best_start, best_steps = 0.0, 0, 0
    for node in range(len(a) // _NODE):
        now[:] = -1e9
        for j in range(count):
            lag = b_first + j / 2 - a_first - node * _NODE
            fresh = -0.5 * (lag / _LAG_SD) ** 2
            for k in range(_STRETCHES):
                long = _LEAST_STRETCH + k
                if j + long >= count:
                    continue
                gain = 0.0
                for t in range(_NODE):
                    place = (j + t * long / _NODE) / 2
                    at = int(place)
                    v = b[at] + (b[at + 1] - b[at]) * (place - at)
                    u = a[node * _NODE + t]
                    gain += alone - spread * (_RHO * _RHO * (u * u + v * v) - 2 * _RHO * u * v)
                so_far, start = fresh, node
                for other in range(_STRETCHES):
                    off = abs(k - other)
                    carried = before[j, other] - _CHANGE * off * (1 + off) / 2
                    if carried > so_far:
                        so_far, start = carried, before_start[j, other]
                # Each step stands for two of the fine ones that the share was found for.
                so_far += 2 * gain * _OWN_SHARE - _OFF * (k - 3) ** 2
                if so_far > now[j + long, k]:
                    now[j + long, k], now_start[j + long, k] = so_far, start
                    if so_far > best:
                        best, best_start = so_far, start * _NODE
                        best_steps = (node + 1 - start) * _NODE
        before, now = now, before
        before_start, now_start = now_start, before_start
    return best, best_start, best_steps
