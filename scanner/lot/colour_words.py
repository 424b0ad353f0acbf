"""A wood's colour in a woodworker's words, with its CIELAB figures beside them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scanner.board.looks import Lab

# Of one board two photographs in other light differ by 2 to 3 in all (`tests.bench.colours`): a
# smaller step of one figure is not worth a word.
_SAID_FROM = 2
# More and less of L*, a* and b*; less red than grey is greener, and so on, but wood never gets
# there.
_STEPS = (("lighter", "darker"), ("redder", "less red"), ("yellower", "less yellow"))


def colour_words(lab: Lab) -> str:
    """Return a colour in words: "lightness 70 of 100, red 4, yellow 19" (L*, a* and b*)."""
    light, red, yellow = (round(value) for value in lab)
    warm = f"red {red}" if red >= 0 else f"green {-red}"
    return f"lightness {light} of 100, {warm}, " + (
        f"yellow {yellow}" if yellow >= 0 else f"blue {-yellow}"
    )


def colour_beside(mine: Lab, theirs: Lab) -> str:
    """Return how another board's colour differs from the chosen one's, in words.

    Parameters
    ----------
    mine, theirs
        CIELAB of the chosen board and of the other one.
    """
    steps = [round(b - a) for a, b in zip(mine, theirs, strict=True)]
    said = [
        f"{more if step > 0 else less} by {abs(step)}"
        for step, (more, less) in zip(steps, _STEPS, strict=True)
        if abs(step) >= _SAID_FROM
    ]
    if not said:
        return f"of nearly the same colour (about {math.dist(mine, theirs):.0f} apart)"
    return ", ".join(said)
