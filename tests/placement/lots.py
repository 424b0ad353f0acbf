"""Lots that the placement tests share, drawn at random or named."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from scanner.board.board import Board, End, Face
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.placement.parts import Faces, Part, PartsList
from tests.common import ash_board, bench_parts, ellipse, shelf_parts, walnut_board
from tests.instances.tiny import board, flaw, part


def named_lot() -> tuple[tuple[Board, ...], PartsList]:
    """Return two ash boards, one of them looked over, a walnut board, and parts of both."""
    boards = (ash_board(), walnut_board(), ash_board("B03", looked_over=True))
    return boards, bench_parts() + shelf_parts()


_SHAPES = st.tuples(
    st.floats(0.05, 0.95), st.floats(0.05, 0.95), st.floats(3.0, 40.0), st.floats(2.0, 25.0)
)


@st.composite
def flaws(draw: st.DrawFn, id: str, length: float, width: float) -> Flaw:
    """Return a flaw of any kind and state somewhere on a board."""
    kind = draw(st.sampled_from(list(FlawKind)))
    x, y, along, across = draw(_SHAPES)
    if kind is FlawKind.WANE:
        low = draw(st.booleans())
        shape = box(x * length, 0, min(length, x * length + 400), across) if low else box(
            x * length, width - across, min(length, x * length + 400), width
        )  # fmt: skip
    else:
        shape = ellipse(x * length, y * width, along, across)
    faces = draw(st.sampled_from([(1,), (2,), (1, 2)]))
    return Flaw(
        id,
        kind,
        dict.fromkeys(faces, shape),
        draw(st.sampled_from([True, False, None])),
        len(faces) == 2,
        state=draw(st.sampled_from(list(FlawState))),
        u_mm=draw(st.sampled_from([0.0, 1.0, 2.5])),
    )


@st.composite
def boards(draw: st.DrawFn, id: str) -> Board:
    """Return a board with a wavy outline, two faces that differ, flaws and perhaps warp."""
    length = draw(st.floats(600.0, 2200.0))
    width = draw(st.floats(70.0, 230.0))
    faces = {}
    scale = draw(st.sampled_from([0.0, 0.0008, 0.004]))
    for number in (1, 2):
        wave = [draw(st.floats(-6.0, 6.0)) for _ in range(8)]
        xs = (wave[6], 0.35 * length, 0.7 * length, length + wave[7])
        low = [(xs[i], wave[i]) for i in range(3)] + [(xs[3], 0.0)]
        high = [(length, width), *[(xs[i], width + wave[3 + i]) for i in (2, 1, 0)]]
        faces[number] = Face(Polygon(low + high), draw(st.booleans()), u_scale=scale)
    shift = (-faces[1].outline.bounds[0], -faces[1].outline.bounds[1])
    moved = {
        n: Face(
            Polygon([(x + shift[0], y + shift[1]) for x, y in face.outline.exterior.coords]),
            face.looked_over,
            u_scale=face.u_scale,
        )
        for n, face in faces.items()
    }
    count = draw(st.integers(0, 5))
    warp = Warp(*(draw(st.integers(low, high)) / 2 for low, high in ((-16, 16), (-6, 6), (0, 12))))
    return Board(
        id=id,
        species=draw(st.sampled_from(["white ash", "walnut"])),
        thickness=Measured(draw(st.sampled_from([22.0, 27.0, 33.0])), 1.0),
        length=Measured(length, 2.0),
        widths=(),
        faces=moved,
        flaws=tuple(draw(flaws(f"F{n}", length, width)) for n in range(count)),
        ends={"A": End(draw(st.booleans())), "B": End(draw(st.booleans()), trim_mm=20.0)},
        outline_u_mm=draw(st.sampled_from([0.0, 1.0, 2.0])),
        warp=draw(st.sampled_from([None, warp])),
    )


@st.composite
def parts_lists(draw: st.DrawFn) -> PartsList:
    """Return one to four rows."""
    return tuple(draw(_rows(n)) for n in range(draw(st.integers(1, 4))))


@st.composite
def _rows(draw: st.DrawFn, n: int) -> Part:
    length, width = draw(st.floats(60.0, 900.0)), draw(st.floats(20.0, 120.0))
    return Part(
        f"part {n}",
        draw(st.integers(1, 5)),
        length,
        width,
        draw(st.sampled_from([12.0, 19.0, 24.0])),
        draw(st.sampled_from(list(Faces))),
        species=draw(st.sampled_from([None, "white ash"])),
        max_knot_mm=draw(st.sampled_from([None, 20.0])),
        priority=draw(st.sampled_from([1.0, 2.5])),
        spares=draw(st.sampled_from([0, 0, 1])),
        match=None if n == 3 else draw(st.sampled_from([None, None, "pair", "row:in_order"])),
        straight_grain=draw(st.sampled_from([None, None, "1 in 15"])),
        filler=n == 3,
        length_min_mm=draw(st.sampled_from([None, None, 0.9 * length])),
        width_min_mm=draw(st.sampled_from([None, None, None, 0.8 * width])),
    )


LOTS = st.tuples(st.tuples(boards("B1"), boards("B2")), parts_lists())


@st.composite
def lots_of_sets(draw: st.DrawFn) -> tuple[tuple[Board, ...], PartsList]:
    """Return a lot whose rows are mostly of two sets with spares, on boards of one kind."""
    manner = {name: draw(st.sampled_from(["", ":in_order"])) for name in ("doors", "fronts")}
    own = []
    for n in range(draw(st.integers(1, 4))):
        length, width = draw(st.floats(520.0, 1800.0)), draw(st.floats(60.0, 200.0))
        knots = [
            flaw(
                f"F{k}", FlawKind.KNOT, box(x * length, y * width, x * length + 30, y * width + 20)
            )
            for k, (x, y, _, _) in enumerate(draw(st.lists(_SHAPES, max_size=2)))
        ]
        own.append(board(f"B{n}", length, width, *knots))
    rows = []
    for n in range(draw(st.integers(1, 4))):
        name = draw(st.sampled_from(["doors", "doors", "fronts", None]))
        length, width = draw(st.floats(100.0, 600.0)), draw(st.floats(25.0, 80.0))
        rows.append(
            replace(
                part(f"part {n}", draw(st.integers(1, 3)), length, width),
                match=name and name + manner[name],
                spares=draw(st.integers(0, 3)),
                priority=draw(st.sampled_from([1.0, 2.0])),
            )
        )
    return tuple(own), tuple(rows)
