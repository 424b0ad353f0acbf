"""What would let a matched set or a glued-up panel fit after all: less allowance, in words."""

from collections.abc import Callable
from dataclasses import replace

from scanner.board.board import Board
from scanner.placement.giving.sizes import Side, size_mm
from scanner.placement.parts import Part
from scanner.placement.said.offers import LEAST_WIDTH_KEPT_MM, rounded_down
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.units import length_text

_HALVINGS = 6


def set_offers(
    part: Part, holds: Callable[[Side, float], Board | None], shop: Shop
) -> tuple[str, ...]:
    """Return an offer for each allowance of which giving up a part makes room.

    Parameters
    ----------
    part
        The first of the set, or the panel: its allowances are told.
    holds
        Which board holds all of it with so much of an allowance left, mm.
    """
    said = []
    least: tuple[tuple[Side, float], ...] = (
        ("length", shop.kerf_mm),
        ("width", LEAST_WIDTH_KEPT_MM),
    )
    for side, low in least:
        full = rough_size_mm(part, shop)[0 if side == "length" else 1] - size_mm(part, side)
        if full <= low or holds(side, low) is None:
            continue
        high = full
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if holds(side, middle) is not None else (low, middle)
        # What is written is a whole step; the larger one where the bisection stops just below it.
        for kept in (rounded_down(high, shop), rounded_down(low, shop)):
            board = holds(side, kept)
            if board is None:
                continue
            said.append(
                f"{board.id} could hold all of it with {length_text(kept, shop.units)} of the "
                f"{length_text(full, shop.units)} {side} allowance ({side}_allowance)"
            )
            break
    return tuple(said)


def with_allowance(part: Part, side: Side, mm: float) -> Part:
    """Return a part with no more of an allowance than this."""
    own = part.length_allowance_mm if side == "length" else part.width_allowance_mm
    kept = mm if own is None else min(own, mm)
    return (
        replace(part, length_allowance_mm=kept)
        if side == "length"
        else replace(part, width_allowance_mm=kept)
    )
