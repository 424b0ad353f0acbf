"""Both faces as one board."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon

from scanner.board.crack_run import PAST_TIP_MM
from scanner.board.flaw import Flaw, FlawKind
from scanner.board.join import join_faces
from scanner.board.reading import mid_line
from scanner.errors import BoardError
from scanner.geometry.polygons import iou
from tests.board.two_faces import FACE, as_turned, knot, reading

NAMES = ("front.jpg", "back.jpg")


@pytest.mark.parametrize("turned", ["sideways", "end_over_end"])
def test_the_way_a_board_was_turned_is_found_from_its_outline(turned):
    joined = join_faces(reading(FACE), as_turned(FACE, (), turned), 27, NAMES)
    assert joined.turned == turned
    assert iou(joined.outline_2, reading(FACE).outline) > 0.995


@pytest.mark.parametrize("turned", ["sideways", "end_over_end"])
def test_a_square_board_is_turned_by_its_through_knots(turned):
    square = Polygon([(0, 0), (1500, 0), (1500, 150), (0, 150)])
    flaws = (knot(300, 40), knot(1250, 60), knot(700, 120))
    joined = join_faces(reading(square, flaws), as_turned(square, flaws, turned), 27, NAMES)
    assert joined.turned == turned
    assert [flaw.is_through for flaw in joined.flaws] == [True, True, True]


@pytest.mark.parametrize("turned", ["sideways", "end_over_end"])
@pytest.mark.parametrize("told_by", ["wane", "sapwood"])
def test_a_square_board_is_turned_by_the_outside_of_its_log(turned, told_by):
    square = Polygon([(0, 0), (1500, 0), (1500, 150), (0, 150)])
    # The face nearer to the bark has the more of it.
    faces = []
    for x, turn in ((600, None), (900, turned)):
        outside = Polygon([(x, 0), (1400, 0), (1400, 12), (x, 12)])
        shown = (Flaw("W", FlawKind.WANE, {1: outside}),)
        if told_by == "wane":
            face, kept = square.difference(outside), shown
        else:
            face, kept = square, ()
        laid = as_turned(square, shown, turn) if turn else reading(square, shown)
        bare = as_turned(face, kept, turn) if turn else reading(face, kept)
        sapwood = laid.flaws[0].outlines[1]
        faces.append(replace(bare, sapwood=() if told_by == "wane" else (sapwood,)))
    joined = join_faces(faces[0], faces[1], 27, NAMES)
    assert joined.turned == turned


def test_wane_on_one_face_alone_does_not_tell_how_a_board_was_turned():
    square = Polygon([(0, 0), (1500, 0), (1500, 150), (0, 150)])
    outside = Polygon([(600, 0), (1400, 0), (1400, 12), (600, 12)])
    front = reading(square.difference(outside), (Flaw("W", FlawKind.WANE, {1: outside}),))
    joined = join_faces(front, reading(square), 27, NAMES)
    assert any("end over end" in doubt for doubt in joined.doubts)


def test_a_board_alike_both_ways_says_so():
    square = Polygon([(0, 0), (1500, 0), (1500, 150), (0, 150)])
    joined = join_faces(reading(square), reading(square), 27, NAMES)
    assert any("end over end" in doubt for doubt in joined.doubts)


def test_a_knot_on_one_face_stays_on_that_face():
    joined = join_faces(
        reading(FACE, (knot(400, 90),)), as_turned(FACE, (knot(1200, 60),), "sideways"), 27, NAMES
    )
    assert [tuple(flaw.outlines) for flaw in joined.flaws] == [(1,), (2,)]
    assert not any(flaw.is_through for flaw in joined.flaws)


def test_a_knot_that_is_loose_on_one_face_is_not_sound():
    front = replace(knot(400, 90), sound=True)
    back = replace(knot(405, 92), sound=False)
    joined = join_faces(reading(FACE, (front,)), as_turned(FACE, (back,), "sideways"), 27, NAMES)
    (flaw,) = joined.flaws
    assert flaw.is_through
    assert flaw.sound is False


@pytest.mark.parametrize("worse_face", [1, 2])
@pytest.mark.parametrize(
    ("kind", "said"),
    [(FlawKind.KNOT, "looks like a loose knot"), (FlawKind.HOLE, "looks like a hole")],
)
def test_the_words_of_a_flaw_on_both_faces_are_those_of_the_worse_one(worse_face, kind, said):
    plain = replace(knot(400, 90), sound=None, score=0.6, reason="looks like a knot")
    sound = False if kind is FlawKind.KNOT else None
    worse = replace(knot(405, 92), kind=kind, sound=sound, score=0.9, reason=said)
    front, back = (worse, plain) if worse_face == 1 else (plain, worse)
    joined = join_faces(reading(FACE, (front,)), as_turned(FACE, (back,), "sideways"), 27, NAMES)
    (flaw,) = joined.flaws
    assert (flaw.kind, flaw.sound) == (kind, sound)
    assert flaw.reason == f"{said}; also on the other face"


@pytest.mark.parametrize(
    ("size_on_2", "also"),
    [
        ("20 x 15 mm", "20 x 15 mm on face 2"),
        ("15 x 12 mm", "also on the other face"),
        ("9 x 13 mm", "9 x 13 mm on face 2"),
    ],
)
def test_a_knot_of_two_sizes_is_told_with_its_size_on_either_face(size_on_2, also):
    front = replace(knot(400, 90), sound=True, reason="looks like a sound knot, 14 x 11 mm")
    back = replace(knot(405, 92), sound=True, reason=f"looks like a sound knot, {size_on_2}")
    joined = join_faces(reading(FACE, (front,)), as_turned(FACE, (back,), "sideways"), 27, NAMES)
    assert joined.flaws[0].reason == f"looks like a sound knot, 14 x 11 mm; {also}"


def test_a_knot_of_two_sizes_told_by_face_2_names_face_1():
    front = replace(knot(400, 90), sound=True, reason="looks like a sound knot, 14 x 11 mm")
    back = replace(knot(405, 92), sound=False, reason="looks like a loose knot, 20 x 15 mm")
    joined = join_faces(reading(FACE, (front,)), as_turned(FACE, (back,), "sideways"), 27, NAMES)
    assert joined.flaws[0].reason == "looks like a loose knot, 20 x 15 mm; 14 x 11 mm on face 1"


def test_an_end_check_on_both_faces_is_a_split_with_the_longer_reach():
    def crack(length):
        shape = Polygon([(0, 80), (length, 81), (length, 83), (0, 84)])
        reason = f"reaches {length} mm"
        return Flaw("C", FlawKind.CHECK, {1: shape}, reach_mm=length, reason=reason)

    joined = join_faces(
        reading(FACE, (crack(60),)), as_turned(FACE, (crack(140),), "sideways"), 27, NAMES
    )
    (flaw,) = joined.flaws
    assert flaw.kind is FlawKind.SPLIT
    assert flaw.reach_mm == 140
    assert flaw.reason == "reaches 140 mm; also on the other face"


@pytest.mark.parametrize("turned", ["sideways", "end_over_end"])
@pytest.mark.parametrize("at_end", ["A", "B"])
@pytest.mark.parametrize(("shown", "long"), [((60, 140), 140), ((121, None), 121)])
def test_a_crack_reaches_as_far_as_its_outlines_show_on_both_faces(turned, at_end, shown, long):
    square = Polygon([(0, 0), (1800, 0), (1800, 170), (0, 190)])

    def crack(length):
        """Whose tip the finder placed far too near to the end."""
        begin, end = (0, length) if at_end == "A" else (1800 - length, 1800)
        shape = Polygon([(begin, 80), (end, 81), (end, 83), (begin, 84)])
        return Flaw("C", FlawKind.CHECK, {1: shape}, reach_mm=3.0)

    front, back = (() if length is None else (crack(length),) for length in shown)
    joined = join_faces(reading(square, front), as_turned(square, back, turned), 27, NAMES)
    (flaw,) = joined.flaws
    assert flaw.reach_mm == pytest.approx(long - PAST_TIP_MM, abs=1)


def test_a_crack_that_starts_at_no_end_has_no_reach():
    inside = replace(end_check(700, 900, 60), reach_mm=None)
    (flaw,) = join_faces(reading(FACE, (inside,)), as_turned(FACE, (), "sideways"), 27, NAMES).flaws
    assert flaw.reach_mm is None


@pytest.mark.parametrize("scale", [(0.9, 1.0), (1.0, 0.85)])
def test_faces_of_two_boards_are_refused(scale):
    other = affinity.scale(FACE, *scale, origin=(0, 0))
    with pytest.raises(BoardError, match="two different boards"):
        join_faces(reading(FACE), as_turned(other, (), "sideways"), 27, NAMES)


@pytest.mark.slow
@given(
    st.floats(-8, 8),
    st.floats(-15, 15),
    st.floats(-15, 15),
    st.sampled_from(["sideways", "end_over_end"]),
)
def test_the_length_of_a_face_does_not_depend_on_how_it_is_seen(taper, slant_a, slant_b, turned):
    face = Polygon([(slant_a, taper), (1800, 0), (1800 + slant_b, 170), (0, 180)])
    seen = as_turned(face, (), turned)
    assert abs(seen.length.value_mm - reading(face).length.value_mm) < 0.05


def test_the_mid_line_runs_through_the_mid_widths_of_ends_that_are_not_square():
    # Both ends slant by the same 20 mm over 200 mm of width: a parallelogram 1000 mm long.
    face = Polygon([(0, 0), (1000, 0), (1020, 200), (20, 200)])
    a, b = mid_line(face)
    assert a == pytest.approx((10, 100), abs=0.05)
    assert b == pytest.approx((1010, 100), abs=0.05)


@pytest.mark.parametrize("turned", ["sideways", "end_over_end"])
def test_wane_that_went_unseen_on_one_face_does_not_move_the_other(turned):
    square = Polygon([(0, 0), (2000, 0), (2000, 150), (0, 150)])
    # 25 mm of wane over two fifths of one edge: the flat face is narrower there, nothing says why.
    waned = Polygon([(0, 0), (2000, 0), (2000, 150), (900, 150), (800, 125), (0, 125)])
    flaws = (knot(300, 40), knot(1250, 60), knot(700, 80))
    joined = join_faces(reading(square, flaws), as_turned(waned, flaws, turned), 27, NAMES)
    assert joined.turned == turned
    assert iou(joined.outline_2, waned) > 0.99
    for flaw in joined.flaws:
        assert flaw.outlines[1].centroid.distance(flaw.outlines[2].centroid) < 1.0


def end_check(x0: float, x1: float, y: float, wide: float = 1.5) -> Flaw:
    shape = Polygon([(x0, y - wide), (x1, y - wide), (x1, y + wide), (x0, y + wide)])
    return Flaw("C", FlawKind.CHECK, {1: shape}, score=0.8, reach_mm=x1 - x0)


def test_checks_side_by_side_are_each_joined_with_its_own_other_side():
    # Two checks 18 mm apart lean by 14 mm between the faces: the nearest is the wrong one.
    front = reading(FACE, (end_check(2, 90, 60), end_check(2, 80, 78), knot(900, 130)))
    back = as_turned(
        FACE, (end_check(2, 70, 74), end_check(2, 60, 92), knot(905, 144)), "end_over_end"
    )
    joined = join_faces(front, back, 27.0, NAMES)
    both = [f for f in joined.flaws if f.kind is FlawKind.SPLIT]
    steps = [f.outlines[2].centroid.y - f.outlines[1].centroid.y for f in both]
    assert steps == pytest.approx([14, 14], abs=2)
    assert sorted(f.reach_mm for f in both) == pytest.approx([78, 88], abs=1)


def test_a_knot_that_fell_out_on_the_back_is_one_knot():
    front = reading(FACE, (knot(700, 60), knot(1300, 120)))
    fallen = replace(knot(704, 63, 9), kind=FlawKind.HOLE, score=0.6)
    joined = join_faces(front, as_turned(FACE, (fallen, knot(1304, 122)), "sideways"), 27.0, NAMES)
    assert [f.kind for f in joined.flaws] == [FlawKind.KNOT, FlawKind.KNOT]
    assert all(f.is_through for f in joined.flaws)


def test_faces_whose_many_knots_never_meet_are_of_two_boards():
    front = reading(FACE, tuple(knot(x, 60) for x in (200, 600, 1000, 1400)))
    back = as_turned(FACE, tuple(knot(x, 110) for x in (400, 800, 1200, 1600)), "sideways")
    with pytest.raises(BoardError, match="none comes through"):
        join_faces(front, back, 27.0, NAMES)


def test_cards_beside_both_faces_outweigh_knots_that_never_meet_and_those_are_told():
    """Knots that slant much along a board come out elsewhere than they went in."""
    front = reading(FACE, tuple(knot(x, 60) for x in (200, 600, 1000, 1400)))
    back = as_turned(FACE, tuple(knot(x, 110) for x in (400, 800, 1200, 1600)), "sideways")
    joined = join_faces(front, back, 27.0, NAMES, has_cards=True)
    (told,) = (doubt for doubt in joined.doubts if "come through" in doubt)
    assert told.endswith("look whether both photos show one board")
    with pytest.raises(BoardError, match="lay its board card beside each"):
        join_faces(front, back, 27.0, NAMES)


def test_two_knots_that_never_meet_are_a_doubt():
    front = reading(FACE, (knot(200, 60), knot(600, 60)))
    back = as_turned(FACE, (knot(1000, 110), knot(1500, 110)), "sideways")
    joined = join_faces(front, back, 27.0, NAMES)
    assert any("one board" in doubt for doubt in joined.doubts)


SQUARE = Polygon([(0, 0), (1800, 0), (1800, 180), (0, 180)])


def test_where_nothing_tells_of_one_board_it_is_asked():
    tapered = Polygon([(0, 0), (1800, 4), (1800, 176), (0, 180)])
    joined = join_faces(reading(tapered), as_turned(tapered, (), "sideways"), 27.0, NAMES)
    assert any("Nothing on these faces tells" in doubt for doubt in joined.doubts)
    # Cards beside both faces tell it.
    back = as_turned(tapered, (), "sideways")
    told = join_faces(reading(tapered), back, 27.0, NAMES, has_cards=True)
    assert not any("one board" in doubt for doubt in told.doubts)


def test_a_knot_that_comes_through_tells_of_one_board():
    back = as_turned(SQUARE, (knot(305, 42),), "sideways")
    joined = join_faces(reading(SQUARE, (knot(300, 40),)), back, 27.0, NAMES)
    assert not any("one board" in doubt for doubt in joined.doubts)


def test_knots_that_come_through_are_not_denied_where_they_tell_too_little():
    """Of so many knots on so small a face some meet by chance on faces of two boards, too."""
    through = knot(300, 40), knot(800, 120), knot(1300, 60)
    alone = tuple(knot(x, 90) for x in (200, 500, 1000, 1600))
    front = reading(SQUARE, (*through, *alone))
    joined = join_faces(front, as_turned(SQUARE, through, "sideways"), 27.0, NAMES)
    (told,) = (doubt for doubt in joined.doubts if "one" in doubt)
    assert told.startswith("3 knots come through to the other face beside 4 that do not,")


def test_ends_that_slant_otherwise_on_the_other_face_are_told():
    slanting = Polygon([(0, 0), (1800, 0), (1806, 180), (0, 180)])
    joined = join_faces(reading(slanting), reading(slanting), 27.0, NAMES)
    (told,) = (doubt for doubt in joined.doubts if "slants" in doubt)
    assert told.startswith("End B slants by ") and " on face 1 and " in told


def test_ends_and_knots_together_refuse_two_boards():
    front = Polygon([(0, 0), (1800, 0), (1809, 180), (9, 180)])
    back = Polygon([(9, 0), (1809, 0), (1800, 180), (0, 180)])
    knots = knot(300, 40), knot(1200, 120)
    others = knot(700, 60), knot(1500, 90)
    with pytest.raises(BoardError, match="not come through"):
        join_faces(reading(front, knots), as_turned(back, others, "sideways"), 27.0, NAMES)


def test_sapwood_of_the_back_is_seen_through_the_board():
    strip = Polygon([(300, 150), (900, 150), (900, 170), (300, 170)])
    back = as_turned(FACE, (Flaw("S", FlawKind.STAIN, {1: strip}),), "sideways")
    back = replace(back, flaws=(), sapwood=(back.flaws[0].outlines[1],))
    (seen,) = join_faces(reading(FACE), back, 27.0, NAMES).sapwood_2
    assert iou(seen, strip) > 0.9


def test_an_end_that_is_broken_tells_nothing_of_one_board():
    broken = Polygon([(0, 0), (1800, 0), (1770, 180), (0, 180)])
    joined = join_faces(reading(SQUARE), as_turned(broken, (), "sideways"), 27.0, NAMES)
    assert any("Nothing on these faces tells" in doubt for doubt in joined.doubts)
