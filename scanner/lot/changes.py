"""One change of what is asked for: an allowance, a size, what may show; offered, never applied.

Each kind of change comes in steps, the smallest first. How far a change goes from what was asked
is its price: allowances first, as they are wood for the saw and not for the piece; then sizes; then
looks. That order is ours: the maker weighs them anew.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from scanner.placement.parts import LOOSER, Faces, Part, PartsList
from scanner.placement.said.offers import LEAST_WIDTH_KEPT_MM, MOST_SMALLER
from scanner.placement.shop import Shop
from scanner.placement.wanted.items import rough_size_mm
from scanner.units import MM_PER_INCH, length_text

# Steps of a size that gives: eighths of an inch, or the millimetres next to them.
_SIZES_MM, _SIZES_IN = (3.0, 6.0, 12.0), (0.125, 0.25, 0.5)
# What is left of an allowance.
_SHARES = (0.75, 0.5, 0.25)
_LOOSER_WORDS = {
    Faces.SHOW: "its back may carry sound flaws (faces: show)",
    Faces.SOUND: "it may show what does not weaken it (faces: sound)",
}
# The next size of knot that anybody would tell apart.
_MORE_KNOT_MM = 10.0


@dataclass(frozen=True, slots=True)
class Change:
    """One change of one row, in words, with the row as it would stand.

    ``price`` orders changes: whole numbers are kinds, the rest is the step.
    """

    part: Part
    words: str
    price: float


def changes_of(part: Part, shop: Shop) -> tuple[tuple[Change, ...], ...]:
    """Return every kind of change that a row allows, each as its steps, the smallest first.

    A side whose size may give already has no steps: the solver uses its range.
    """
    kinds: tuple[Callable[[Part, Shop], Iterator[Change]], ...] = (
        _less_length_allowance,
        _less_width_allowance,
        _shorter,
        _narrower,
        _more_knot,
        _looser,
        _any_grain,
    )
    found = tuple(tuple(kind(part, shop)) for kind in kinds)
    return tuple(steps for steps in found if steps)


def with_change(parts: PartsList, change: Change) -> PartsList:
    """Return the parts list with one row changed."""
    return tuple(change.part if part.name == change.part.name else part for part in parts)


def _less_length_allowance(part: Part, shop: Shop) -> Iterator[Change]:
    full = rough_size_mm(part, shop)[0] - part.length_mm
    for step, kept in _less_of(full, shop.kerf_mm, shop):
        yield Change(
            replace(part, length_allowance_mm=kept),
            f"{part.name}: {_text(kept, shop)} of {_text(full, shop)} length allowance "
            "(length_allowance)",
            0.0 + step / 10,
        )


def _less_width_allowance(part: Part, shop: Shop) -> Iterator[Change]:
    full = rough_size_mm(part, shop)[1] - part.width_mm
    for step, kept in _less_of(full, LEAST_WIDTH_KEPT_MM, shop):
        yield Change(
            replace(part, width_allowance_mm=kept),
            f"{part.name}: {_text(kept, shop)} of {_text(full, shop)} width allowance "
            "(width_allowance)",
            0.5 + step / 10,
        )


def _less_of(full_mm: float, least_mm: float, shop: Shop) -> Iterator[tuple[int, float]]:
    """Yield the steps and what each leaves of an allowance, mm, where the saw can do with it."""
    for step, share in enumerate(_SHARES):
        kept = _tidy(share * full_mm, shop)
        if kept >= least_mm and kept < full_mm - 0.5:
            yield step, kept


def _shorter(part: Part, shop: Shop) -> Iterator[Change]:
    if part.length_min_mm is not None or _keeps_its_size(part):
        return
    for step, less in enumerate(_size_steps(part.length_mm, shop)):
        yield Change(
            replace(part, length_mm=part.length_mm - less),
            f"{part.name}: {_text(less, shop)} shorter (length_min)",
            1.0 + step / 10,
        )


def _narrower(part: Part, shop: Shop) -> Iterator[Change]:
    if part.width_min_mm is not None or _keeps_its_size(part):
        return
    for step, less in enumerate(_size_steps(part.width_mm, shop)):
        yield Change(
            replace(part, width_mm=part.width_mm - less),
            f"{part.name}: {_text(less, shop)} narrower (width_min)",
            1.5 + step / 10,
        )


def _keeps_its_size(part: Part) -> bool:
    """Whether others are to be as large as it, or its curve was drawn for its size."""
    return bool(part.equal) or part.outline_mm is not None


def _size_steps(size_mm: float, shop: Shop) -> Sequence[float]:
    steps = [inch * MM_PER_INCH for inch in _SIZES_IN] if shop.units == "inch" else _SIZES_MM
    return [step for step in steps if step <= MOST_SMALLER * size_mm]


def _more_knot(part: Part, shop: Shop) -> Iterator[Change]:
    if part.max_knot_mm is None or part.faces is Faces.BOTH:
        return
    larger = part.max_knot_mm + _MORE_KNOT_MM
    yield Change(
        replace(part, max_knot_mm=larger),
        f"{part.name}: sound knots up to {_text(larger, shop)} instead of "
        f"{_text(part.max_knot_mm, shop)} (max_knot)",
        2.0,
    )
    yield Change(
        replace(part, max_knot_mm=None), f"{part.name}: sound knots of any size (max_knot)", 2.1
    )


def _looser(part: Part, shop: Shop) -> Iterator[Change]:
    looser = LOOSER.get(part.faces)
    step = 0
    while looser is not None:
        yield Change(
            replace(part, faces=looser),
            f"{part.name}: {_LOOSER_WORDS[looser]}",
            2.5 + step / 10,
        )
        looser, step = LOOSER.get(looser), step + 1


def _any_grain(part: Part, shop: Shop) -> Iterator[Change]:
    if part.straight_grain and part.straight_grain != "follow":
        yield Change(
            replace(part, straight_grain=None),
            f"{part.name}: any slope of grain (straight_grain)",
            3.0,
        )


def _tidy(mm: float, shop: Shop) -> float:
    """Return a length as it is written: whole millimetres, or sixteenths of an inch."""
    step = MM_PER_INCH / 16 if shop.units == "inch" else 1.0
    return round(mm / step) * step


def _text(mm: float, shop: Shop) -> str:
    return length_text(mm, shop.units)
