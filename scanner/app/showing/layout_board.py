"""What the page "Layout" draws: each board with its parts, as something to take in hand."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from shapely.geometry import Polygon

from scanner.app.lot.asked_parts import asked_parts
from scanner.app.placing.landing import bench_of, land, stays
from scanner.app.showing.page_state import (
    FaceView,
    PartView,
    board_head,
    board_view,
    label_of,
    part_view,
)
from scanner.placement.ground.end_room import end_rooms
from scanner.placement.layout import SAWN_OUT
from scanner.placement.names_in_words import joined
from scanner.placement.parts import Faces
from scanner.placement.wanted.items import rough_size_mm
from scanner.placement.wanted.turned import nest_blank
from scanner.units import MM_PER_INCH, length_text, size_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from scanner.app.nodding.flaw_state import FlawView
    from scanner.app.nodding.seen_face import Ring
    from scanner.placement.ground.end_room import EndRoom
    from scanner.placement.layout import Layout, Placement
    from scanner.placement.parts import Part
    from scanner.placement.shop import Shop
    from scanner.storage.lots import Lot

# Drawn over a whole board, finer corners are not seen; the page carries them on every tap.
_FINE_ENOUGH_MM = 0.6
_ASKS = {
    Faces.BOTH: "clear on both faces",
    Faces.SHOW: "clear on its show face",
    Faces.SOUND: "sound",
    Faces.HIDDEN: "hidden",
}


@dataclass(frozen=True, slots=True)
class LaidPart:
    """A placed part: where it lies (board frame, mm), what it asks, and what may be done with it.

    ``stave`` is 0 for a part in one piece, ``layer`` for one that is no slice; ``stays`` is why it
    keeps its place, "" where the next search may move it.
    """

    part: str
    copy: int
    stave: int
    layer: int
    label: str
    size: str
    asks: str
    x: float
    y: float
    length: float
    width: float
    angle: float
    show_face: int | None
    state: str
    locked: bool
    stays: str
    view: PartView


@dataclass(frozen=True, slots=True)
class LaidBoard:
    """A board of the layout page; ``span`` is length and width of face 1 for mirroring, mm."""

    id: str
    head: str
    span: tuple[float, float]
    faces: tuple[FaceView, ...]
    flaws: tuple[FlawView, ...]
    parts: tuple[LaidPart, ...]
    ends: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LandingView:
    """The answer to "may it lie here?": where it would land (board frame, mm), or why not."""

    may: bool
    x: float
    y: float
    angle: float
    show_face: int | None
    said: str


def laid_boards(lot: Lot, layout: Layout | None = None) -> tuple[LaidBoard, ...]:
    """Return every board of the lot, ready to draw, those with parts first.

    ``layout`` is drawn instead of the lot's newest.
    """
    saved = lot.layout()
    drawn = layout or (saved.layout if saved else None)
    placements = drawn.placements if drawn else ()
    shop, parts = lot.shop(), {part.name: part for part in asked_parts(lot)}
    found = []
    for board in lot.boards():
        view = board_view(lot, board.id, drawn)
        own = [p for p in placements if p.board == board.id]
        _, _, length, width = board.faces[1].outline.bounds
        laid = tuple(
            _laid_part(p, part_view(board, p, placements, parts), part, shop, _nest_of(p, own))
            for p, part in ((p, parts.get(p.part)) for p in own)
        )
        ends = tuple(
            _end_words(room, placements, parts, shop.units) for room in end_rooms(board, own, shop)
        )
        found.append(
            LaidBoard(
                id=board.id,
                head=board_head(board, shop.units),
                span=(length, width),
                faces=tuple(replace(one, outline=_coarse(one.outline)) for one in view.faces),
                flaws=tuple(
                    replace(one, rings={n: _coarse(ring) for n, ring in one.rings.items()})
                    for one in view.flaws
                    if one.state != "struck"
                ),
                parts=laid,
                ends=ends,
            )
        )
    return tuple(sorted(found, key=lambda board: not board.parts))


def may_it_lie(
    lot: Lot,
    part: tuple[str, int],
    seen: tuple[str, tuple[float, float]],
    wished: tuple[str, tuple[float, float]],
    reach_mm: float,
    show_face: int | None = None,
) -> LandingView | None:
    """Return where a part would land that is wished on a board; None where it is not known.

    Parameters
    ----------
    seen, wished
        Board and corner of smallest x and y, board frame, mm: where it lies, where it should.
    """
    bench = bench_of(lot)
    board, (x, y) = seen
    mover = next(
        (
            p
            for p in bench.placements
            if (p.part, p.copy, p.board) == (*part, board)
            and math.dist((p.x_mm, p.y_mm), (x, y)) < 1.0
        ),
        None,
    )
    if mover is None:
        return None
    if mover.state in SAWN_OUT:
        return LandingView(
            False, *wished[1], mover.angle_deg, mover.show_face, "It is cut already."
        )
    mover = replace(mover, show_face=show_face or mover.show_face)
    landing = land(bench, mover, *wished, reach_mm)
    if landing.placement is None:
        return LandingView(False, *wished[1], mover.angle_deg, mover.show_face, landing.why)
    lands = landing.placement
    names = [label_of(p, bench.placements, bench.parts.get(p.part)) for p in landing.makes_way]
    said = f"{joined(names)} {'make' if len(names) > 1 else 'makes'} way." if names else ""
    if lands.show_face is not None and lands.show_face != mover.show_face:
        said = f"Face {lands.show_face} would show. {said}".strip()
    return LandingView(True, lands.x_mm, lands.y_mm, lands.angle_deg, lands.show_face, said)


def hand_words(lot: Lot) -> tuple[tuple[tuple[str, str], ...], tuple[tuple[str, int], ...]]:
    """Return what was asked for on the layout: parts kept off boards, spares by part."""
    rules = lot.hand_rules()
    return rules.forbidden, tuple(sorted(rules.spares.items()))


def _nest_of(p: Placement, own: Iterable[Placement]) -> list[Placement]:
    """Return what is nested with a part on its board, the part with it."""
    return [q for q in own if q.nest is not None and q.nest == p.nest and q.state != "spoiled"]


def _laid_part(
    p: Placement, view: PartView, part: Part | None, shop: Shop, nest: Sequence[Placement]
) -> LaidPart:
    why = p.state if p.state in SAWN_OUT else "held" if stays(p) else ""
    return LaidPart(
        part=p.part,
        copy=p.copy,
        stave=p.stave or 0,
        layer=p.layer or 0,
        label=view.label,
        size=_size_words(nest_blank(p, nest), part, shop) + _nest_words(len(nest)),
        asks=_ASKS[part.faces] if part else "",
        x=p.x_mm,
        y=p.y_mm,
        length=p.length_mm,
        width=p.width_mm,
        angle=p.angle_deg,
        show_face=p.show_face,
        state=p.state,
        locked=p.locked,
        stays=why,
        view=view,
    )


def _size_words(p: Placement, part: Part | None, shop: Shop) -> str:
    """Return the rough size, and the finished one where the part is sawn from one rectangle."""
    rough = size_text(p.length_mm, p.width_mm, shop.units)
    if part is None or p.stave is not None or part.outline_mm is not None:
        return f"{rough} rough"
    # As it is placed: a size that may give is not the one that was wished.
    length, width = rough_size_mm(part, shop)
    finished = (p.length_mm - length + part.length_mm, p.width_mm - width + part.width_mm)
    return f"{rough} rough, {size_text(*finished, shop.units)} finished"


def _nest_words(count: int) -> str:
    return f" for {count}: curves sawn apart" if count > 1 else ""


def _end_words(
    room: EndRoom, placements: Iterable[Placement], parts: Mapping[str, Part], units: str
) -> str:
    name = label_of(room.part, placements, parts.get(room.part.part))
    if room.is_used_up:
        return f"End {room.end} may lose nothing more: {name} lies there."
    # Rounded down: nobody should cut off more than this.
    step = MM_PER_INCH / 16 if units == "inch" else 1.0
    more = length_text(math.floor(room.more_mm / step) * step, units)
    return f"End {room.end} may lose {more} more before {name} is lost."


# Outlines stay while parts move, and every move draws all boards anew.
@lru_cache(maxsize=8192)
def _coarse(ring: Ring) -> Ring:
    shape = Polygon(ring).simplify(_FINE_ENOUGH_MM)
    return tuple((round(x, 1), round(y, 1)) for x, y in list(shape.exterior.coords)[:-1])
