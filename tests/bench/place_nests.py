"""What nesting saves: the least length of a board that gives eight bowed legs of a bench.

    python -m tests.bench.place_nests

The same legs once by their curves and once as rectangles, on boards of four widths, default shop.
Rectangles are what is left of a curved part without its shape.
"""

from __future__ import annotations

import math
from dataclasses import replace

from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from scanner.placement.validator.objection import Rule
from tests.instances.tiny import board

_LEGS, _STEP_MM = 8, 10
_X = [430.0 * n / 16 for n in range(17)]
_LOW = [45.0 * math.sin(math.pi * x / 430) for x in _X]
_BACK = [(x, y + 45) for x, y in zip(reversed(_X), reversed(_LOW), strict=True)]
LEG = Part(
    "leg", _LEGS, 430, 90, 20, Faces.BOTH, shape="leg.svg",
    outline_mm=(*zip(_X, _LOW, strict=True), *_BACK),
)  # fmt: skip


def least_length_mm(part: Part, width_mm: float, shop: Shop) -> int:
    """Return the least length, to 10 mm, at which all legs are placed and the judge agrees."""
    low, high = 10, 600
    while high - low > 1:
        middle = (low + high) // 2
        boards = (board("B1", middle * _STEP_MM, width_mm),)
        layout = solve(boards, (part,), shop, Work(60), in_full=False)
        found = validate_layout(layout, boards, (part,), shop)
        said = [one for one in found if one.rule is not Rule.UNPLACED]
        if layout.summary.placed == _LEGS and not said:
            high = middle
        else:
            low = middle
    return high * _STEP_MM


def main() -> None:
    """Print the table."""
    print("| board width | rectangles | nested | saved |\n|---|---|---|---|")
    for width in (120.0, 180.0, 240.0, 300.0):
        square = least_length_mm(replace(LEG, outline_mm=None, shape=None), width, Shop())
        nested = least_length_mm(LEG, width, Shop())
        saved = 100 * (1 - nested / square)
        print(f"| {width:.0f} mm | {square} mm | {nested} mm | {saved:.0f} % |", flush=True)


if __name__ == "__main__":
    main()
