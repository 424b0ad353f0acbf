"""The placement rules, one by one, against the tables they stand for."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union

from scanner.board.board import End
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.placement.parts import Faces, Part
from scanner.placement.rules import end_trim, flaws, refusal_of, sapwood, wood, zones_of
from scanner.placement.rules.ground import Where, grown, margin_mm
from scanner.placement.rules.thickness import flattened_mm
from scanner.placement.shop import Shop
from scanner.units import mm_from_inches
from tests.instances.tiny import SHOP as EXACT
from tests.instances.tiny import board, flaw, part
from tests.placement.flaw_table import TABLE

SHOP = Shop()
KNOT = box(100, 20, 130, 40)


@pytest.mark.parametrize(("kind", "sound", "is_mild"), TABLE)
def test_each_kind_of_flaw_counts_as_the_table_says(kind, sound, is_mild) -> None:
    one = flaw("F1", kind, KNOT, faces=(1,), sound=sound)
    through = replace(one, is_through=True)
    assert flaws.forbidden_where(one, part("a", 1, 9, 9, "both"), None) is Where.ALL
    for faces in ("sound", "hidden"):
        where = flaws.forbidden_where(one, part("a", 1, 9, 9, faces), None)
        assert (where is None) is is_mild, faces
    show = part("a", 1, 9, 9, "show")
    assert flaws.forbidden_where(one, show, 1) is Where.ALL
    assert (flaws.forbidden_where(one, show, 2) is None) is is_mild
    assert flaws.forbidden_where(through, show, 2) is Where.ALL


@pytest.mark.parametrize("faces", list(Faces))
@pytest.mark.parametrize("kind", list(FlawKind))
def test_possible_counts_at_its_worst_and_struck_not_at_all(kind, faces) -> None:
    one = flaw("F1", kind, KNOT, sound=True, state=FlawState.POSSIBLE)
    assert flaws.forbidden_where(one, part("a", 1, 9, 9, faces), 2) is Where.ALL
    struck = replace(one, state=FlawState.STRUCK)
    assert flaws.forbidden_where(struck, part("a", 1, 9, 9, faces), 1) is None


def test_a_pin_hole_only_shows() -> None:
    pin = flaw("F1", FlawKind.HOLE, Point(50, 50).buffer(0.7))
    assert flaws.forbidden_where(pin, part("a", 1, 9, 9, "sound"), None) is None
    grub = flaw("F1", FlawKind.HOLE, Point(50, 50).buffer(2.0))
    assert flaws.forbidden_where(grub, part("a", 1, 9, 9, "sound"), None) is Where.ALL


def test_the_largest_sound_knot_a_part_allows() -> None:
    knot = flaw("F1", FlawKind.KNOT, KNOT, sound=True)
    for limit, is_allowed in ((29.0, False), (31.0, True)):
        asked = replace(part("a", 1, 9, 9, "sound"), max_knot_mm=limit)
        assert (flaws.forbidden_where(knot, asked, None) is None) is is_allowed


def test_the_back_of_a_part_that_shows_one_face_carries_no_larger_knot_than_it_allows() -> None:
    knot = flaw("F1", FlawKind.KNOT, KNOT, faces=(1,), sound=True)
    for limit, is_allowed in ((29.0, False), (31.0, True), (None, True)):
        asked = replace(part("a", 1, 9, 9, "show"), max_knot_mm=limit)
        assert (flaws.forbidden_where(knot, asked, 2) is None) is is_allowed, limit
        assert flaws.forbidden_where(knot, asked, 1) is Where.ALL
    stain = flaw("F1", FlawKind.STAIN, KNOT, faces=(1,))
    assert flaws.forbidden_where(stain, replace(asked, max_knot_mm=1.0), 2) is None


def test_a_crack_counts_as_long_as_its_longer_face() -> None:
    crack = replace(flaw("F1", FlawKind.CHECK, box(0, 20, 80, 22)), reach_mm=140.0)
    for end, where in (("A", (139, 21)), ("B", (361, 21))):
        shape = box(0, 20, 80, 22) if end == "A" else box(420, 20, 500, 22)
        cracked = board("B1", 500, 60, replace(crack, outlines={1: shape}))
        ground = unary_union(
            [z.ground for z in flaws.zones(cracked, part("a", 1, 9, 9), EXACT, None)]
        )
        assert ground.contains(Point(where)), end
        assert not ground.contains(Point(141 if end == "A" else 359, 21)), end


def test_the_margin_grows_along_the_board_and_across_it() -> None:
    # sqrt(2^2 + (0.004 * 1000)^2) + 1.5 = 5.972, and at 300 mm sqrt(2^2 + 1.2^2) + 1.5 = 3.832
    assert margin_mm(2.0, 0.004, 1000.0, SHOP) == pytest.approx(5.972, abs=1e-3)
    ground = grown(box(990, 280, 1000, 300), 2.0, 0.004, SHOP)
    assert ground.bounds[2:] == pytest.approx((1005.972, 303.832), abs=1e-3)
    # Along by x however far across, across by y however far along.
    ground = grown(box(0, 0, 2000, 10), 2.0, 0.004, SHOP)
    for x in (10.0, 500.0, 1000.0, 1990.0):
        margin = margin_mm(2.0, 0.004, 10.0, SHOP)
        assert ground.contains(Point(x, 10 + margin - 1e-6))
        assert not ground.contains(Point(x, 10 + margin + 0.01))


def test_no_part_lies_outside_either_face() -> None:
    two = board("B1", 500, 60)
    two = replace(
        two, faces={1: two.faces[1], 2: replace(two.faces[2], outline=box(10, 0, 500, 55))}
    )
    ground = unary_union([z.ground for z in wood.zones(two, part("a", 1, 9, 9), EXACT, None)])
    assert ground.contains(Point(5, 30))
    assert ground.contains(Point(250, 57))
    assert not ground.intersects(box(10.1, 0.1, 499.9, 54.9))


def test_ends_lose_their_trim_along_the_board_even_where_they_are_not_square() -> None:
    slanted = board("B1", 500, 60, outline=Polygon([(0, 0), (500, 0), (500, 60), (20, 60)]))
    for end, trim in ((End(False), 50.0), (End(True), 12.0), (End(False, 33.0), 33.0)):
        one = replace(slanted, ends={"A": end, "B": End(True, 0.0)})
        ground = unary_union(
            [z.ground for z in end_trim.zones(one, part("a", 1, 9, 9), SHOP, None)]
        )
        assert ground.contains(Point(trim - 0.5, 0.5)), trim
        assert not ground.contains(Point(trim + 0.5, 0.2)), trim
        assert ground.contains(Point(20 + trim - 1.0, 59.8)), trim
        assert not ground.contains(Point(20 + trim + 1.0, 59.8)), trim


def test_sapwood_by_what_the_part_allows() -> None:
    sappy = replace(board("B1", 500, 60), sapwood={1: (box(0, 0, 500, 10),), 2: ()})

    def has_zone(allowed: str, faces: str, show_face: int | None) -> bool:
        asked = replace(part("a", 1, 9, 9, faces), sapwood=allowed)
        return bool(sapwood.zones(sappy, asked, EXACT, show_face))

    assert not has_zone("any", "both", None)
    assert has_zone("no", "both", None)
    assert has_zone("back", "show", 1)
    assert not has_zone("back", "show", 2)


def test_thickness_left_follows_the_piece_not_the_board() -> None:
    """Cases W-1 and W-5 of the check values (Wood Handbook warp terms; geometry of circle arcs)."""
    long = board("B1", mm_from_inches(96), mm_from_inches(10))
    long = replace(
        long,
        thickness=Measured(mm_from_inches(1.0), 0.0),
        warp=Warp(mm_from_inches(0.5), mm_from_inches(0.25), mm_from_inches(0.5)),
    )
    shop = replace(EXACT, cleanup_mm=mm_from_inches(1 / 16))
    piece = (mm_from_inches(24), mm_from_inches(5))
    # 1 in less the bound of 0.125 (bow 0.03125, cup 0.0625, half of twist 0.0625) less 1/16.
    assert flattened_mm(long, piece, shop) == pytest.approx(mm_from_inches(0.8125), abs=0.02)
    three_quarters = Part("a", 1, piece[0], piece[1], mm_from_inches(0.75), Faces.BOTH)
    assert refusal_of(long, three_quarters, shop) is None
    whole = replace(three_quarters, length_mm=mm_from_inches(95), width_mm=mm_from_inches(9.9))
    assert "when flat" in str(refusal_of(long, whole, shop))
    assert " in (" in str(refusal_of(long, whole, replace(shop, units="inch"))), "told in inches"


def test_a_whole_board_is_refused_in_words() -> None:
    one = board("B1", 500, 60)
    asked = part("a", 1, 9, 9)
    assert refusal_of(one, asked, EXACT) is None
    assert refusal_of(one, replace(asked, species="White Ash "), EXACT) is None
    assert refusal_of(one, replace(asked, species="walnut"), EXACT) == "is white ash, not walnut"
    assert "kept whole" in str(refusal_of(replace(one, keep_whole=True), asked, EXACT))
    assert "not among" in str(refusal_of(one, replace(asked, only_boards=("B9",)), EXACT))
    assert "ruled out" in str(refusal_of(one, replace(asked, not_boards=("B1",)), EXACT))
    assert "other parts" in str(refusal_of(replace(one, only_parts=("x",)), asked, EXACT))


def test_every_zone_has_a_name_a_person_knows() -> None:
    knotty = board("B1", 500, 60, Flaw("F4", FlawKind.BARK_POCKET, {1: KNOT}))
    names = {zone.name for zone in zones_of(knotty, part("a", 1, 9, 9), SHOP, None)}
    assert names == {
        "the board's edge", "the end trim of end A", "the end trim of end B", "bark pocket F4"
    }  # fmt: skip
