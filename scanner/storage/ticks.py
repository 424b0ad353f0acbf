"""What became of parts in the shop, kept apart from the layouts, which come and go."""

from dataclasses import dataclass, replace

from scanner.placement.layout import SAWN_OUT, Layout, Placement

# The fact that holds them.
TICKS = "ticks"
# A part in one of these is wood that was cut: it lies where it lay.
_SAME_PLACE_MM = 0.05

# Part, copy, and stave where the copy is glued up from several (else 0).
Copy = tuple[str, int, int]


@dataclass(frozen=True, slots=True)
class Ticks:
    """Parts that were ticked off, as they lay then; wood that was spoiled stays spoiled."""

    placements: tuple[Placement, ...] = ()
    spoiled: tuple[Placement, ...] = ()

    @property
    def staying(self) -> tuple[Placement, ...]:
        """Those that the next layout may not move."""
        return tuple(tick for tick in self.placements if tick.locked or tick.state in SAWN_OUT)

    @property
    def cut(self) -> tuple[Placement, ...]:
        """Those that are wood that was cut."""
        return tuple(tick for tick in self.placements if tick.state in SAWN_OUT)

    def without(self, copy: Copy) -> "Ticks":
        """Return the ticks without those of one copy of a part."""
        return replace(self, placements=tuple(t for t in self.placements if copy_of(t) != copy))


def copy_of(placed: Placement) -> Copy:
    """Return which copy of which part a placement is of, and which stave of it."""
    return (placed.part, placed.copy, placed.stave or 0)


def is_same_place(one: Placement, two: Placement) -> bool:
    """Whether two placements take the same ground of the same board."""
    return one.board == two.board and all(
        abs(a - b) < _SAME_PLACE_MM
        for a, b in ((one.x_mm, two.x_mm), (one.y_mm, two.y_mm), (one.angle_deg, two.angle_deg))
    )


def with_ticks(layout: Layout, ticks: Ticks) -> Layout:
    """Return a layout in which each part stands as it was ticked off.

    A cut or locked part stands where it was cut or locked; any other tick holds only while the
    part still lies where it was ticked.
    """
    by_copy = {copy_of(tick): tick for tick in ticks.placements}
    staying = {copy_of(tick) for tick in ticks.staying}

    def ticked(placed: Placement) -> Placement:
        copy = copy_of(placed)
        tick = by_copy.get(copy)
        if tick is not None and (copy in staying or is_same_place(placed, tick)):
            return tick
        if any(copy_of(gone) == copy and is_same_place(placed, gone) for gone in ticks.spoiled):
            return replace(placed, state="spoiled")
        return placed

    return replace(layout, placements=tuple(ticked(placed) for placed in layout.placements))
