"""Which parts of a layout are seen together, and what of their wood."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from shapely.geometry import Polygon, box

from scanner.board.assembly import flipped, turned
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.lot.groups import groups_of
from scanner.lot.matching import hints_of, match_of
from scanner.placement.layout import Placement
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.wanted.turned import turned_shape
from scanner.sheets.piece_picture import piece_picture
from scanner.vision.looks.joint_look import MM_PER_PX, look_of
from tests.common import plain_board
from tests.lot.laid import layout_of, streaky

SHOP = Shop()
FRONT = Part("front", 3, 400.0, 60.0, 19.0, Faces.SHOW)
LEG = Part("leg", 2, 300.0, 40.0, 19.0, Faces.BOTH)
TOP = Part("top", 1, 500.0, 150.0, 19.0, Faces.SHOW, staves="2")


def front(copy, y):
    return Placement("front", copy, "P01", 60.0, y, 425.0, 72.0, show_face=1)


FRONTS = layout_of(front(2, 78.0), front(1, 3.0))


def test_copies_of_a_part_stand_together_in_the_order_of_their_numbers():
    (group,) = groups_of(FRONTS, (plain_board(),), (FRONT,), SHOP)
    assert (group.title, group.way) == ("front", "stacked")
    assert [member.copy for member in group.members] == [1, 2]


def test_a_finished_piece_lies_in_the_middle_of_its_rough_one():
    (group,) = groups_of(FRONTS, (plain_board(),), (FRONT,), SHOP)
    first = group.members[0]
    assert first.size_mm == (400.0, 60.0)
    assert first.corner_mm == (60.0 + 12.5, 3.0 + 6.0)


@pytest.mark.parametrize("angle", [8.0, -8.0])
def test_the_finished_piece_of_a_turned_part_lies_inside_its_rough_one(angle):
    turned_parts = [
        replace(front(n, 60.0), angle_deg=angle, x_mm=x) for n, x in ((1, 80), (2, 700))
    ]
    (group,) = groups_of(layout_of(*turned_parts), (plain_board(),), (FRONT,), SHOP)
    for rough, member in zip(turned_parts, group.members, strict=True):
        a, b, c, d, e, f = member.board_from_piece()
        corners = [(a * u + b * v + c, d * u + e * v + f)
                   for u, v in ((0, 0), (400, 0), (400, 60), (0, 60))]  # fmt: skip
        shape, finished = turned_shape(rough), Polygon(corners)
        assert finished.area == pytest.approx(400 * 60)
        assert shape.contains(finished)
        assert shape.exterior.distance(finished) == pytest.approx(6.0, abs=0.01)


def test_staves_make_the_width_of_their_panel_and_touch():
    staves = layout_of(
        *(
            Placement("top", 1, "P01", 60.0, y, 525.0, 87.0, show_face=1, stave=n)
            for n, y in ((1, 3.0), (2, 95.0))
        )
    )
    (group,) = groups_of(staves, (plain_board(),), (TOP,), SHOP)
    assert group.way == "edge_to_edge"
    # 150 mm and its width allowance, which the glued panel still has.
    assert group.size_mm == pytest.approx((500.0, 162.0))


def test_a_part_of_one_piece_is_no_group_and_spoiled_wood_is_none():
    one = layout_of(front(1, 3.0), replace(front(2, 78.0), state="spoiled"))
    assert groups_of(one, (plain_board(),), (FRONT,), SHOP) == ()


def test_a_matched_set_is_one_group_of_all_its_parts():
    parts = (replace(FRONT, match="bank"), replace(LEG, match="bank"))
    legs = Placement("leg", 1, "P01", 600.0, 3.0, 325.0, 52.0)
    (group,) = groups_of(layout_of(front(1, 3.0), legs), (plain_board(),), parts, SHOP)
    assert (group.title, len(group.members)) == ("bank", 2)


def test_the_other_face_may_show_only_where_it_is_clear():
    knot = Flaw("F1", FlawKind.KNOT, {2: box(200, 20, 220, 40)}, state=FlawState.CONFIRMED)
    (group,) = groups_of(FRONTS, (plain_board().with_flaws((knot,)),), (FRONT,), SHOP)
    assert [member.may_show for member in group.members] == [(1,), (1, 2)]


def photographed(board, mm_per_px=0.5):
    """Return a board with a picture of face 1: red grows to the right, green downwards."""
    face = replace(board.faces[1], mm_per_px=mm_per_px, picture_origin=(0.0, 0.0), picture="f")
    rows, columns = 420, 1200
    y, x = np.mgrid[0:rows, 0:columns]
    pixels = np.stack([x / columns * 255, y / rows * 255, 0 * x], axis=2).astype(np.uint8)
    return replace(board, faces={1: face, 2: face}), Image.fromarray(pixels)


def test_the_picture_of_a_piece_is_the_wood_it_is_cut_from():
    board, picture = photographed(plain_board())
    (group,) = groups_of(FRONTS, (board,), (FRONT,), SHOP)
    member = group.members[0]
    for shown, right, down in (
        (member, 1, 1), (turned(member), -1, -1), (replace(flipped(member)), 1, -1),
    ):  # fmt: skip
        image = np.asarray(piece_picture(shown, board, picture, 1.0)).astype(int)
        assert image.shape == (60, 400, 3)
        middle = image[30, 200]
        # 272.5 mm from end A of 600 mm, 39 mm down of 210 mm.
        assert middle[0] == pytest.approx(272.5 / 600 * 255, abs=2)
        assert middle[1] == pytest.approx(39 / 210 * 255, abs=2)
        assert np.sign(image[30, 350, 0] - image[30, 50, 0]) == right
        assert np.sign(image[55, 200, 1] - image[5, 200, 1]) == down


def looks_and_group(order):
    wood = streaky(4)
    slices = [wood[k * 80 + 6 : k * 80 + 74] for k in range(4)]
    (group,) = groups_of(
        layout_of(*(replace(front(n + 1, 3.0), x_mm=60.0 + 450 * n) for n in range(4))),
        (plain_board(),), (replace(FRONT, quantity=4),), SHOP,
    )  # fmt: skip
    looks = {
        (member.key, 1): look_of(slices[k]) for member, k in zip(group.members, order, strict=True)
    }
    return looks, group


def test_slices_of_one_board_are_put_back_into_their_order():
    order = (2, 0, 3, 1)
    looks, group = looks_and_group(order)
    match = match_of(group, looks)
    found = [order[member.copy - 1] for member in match.proposed.members]
    assert found in ([0, 1, 2, 3], [3, 2, 1, 0])
    assert match.gain > 0.1 and match.is_exact


def test_a_group_that_matches_best_as_it_lies_is_left_alone():
    looks, group = looks_and_group((2, 0, 3, 1))
    best = match_of(group, looks).proposed
    again = match_of(best, looks)
    assert again.proposed == best
    assert again.gain == 0


def test_without_a_picture_nothing_is_proposed():
    _, group = looks_and_group((0, 1, 2, 3))
    assert match_of(group, {}) is None
    assert hints_of(group, {})[-1].startswith("Shimmer")


def test_wood_that_nobody_photographed_is_said_to_be_drawn_plain():
    looks, group = looks_and_group((0, 1, 2, 3))
    assert f"No photo of {group.members[0].board}: that wood is drawn plain." in hints_of(group, {})
    assert not any("photo of" in hint for hint in hints_of(group, looks))
    # Nor is anything said of photos that were taken apart where there are none.
    last = replace(group.members[-1], board="B09")
    two = replace(group, members=(*group.members[:-1], last))
    assert any("taken apart" in hint for hint in hints_of(two, looks))
    assert not any("taken apart" in hint for hint in hints_of(two, {}))
    assert "From several boards: compare colours at the wood, wetted or planed." in hints_of(
        two, {}
    )


def test_an_even_number_of_staves_is_a_hint_only_where_they_are_glued():
    _, group = looks_and_group((0, 1, 2, 3))
    assert not any("odd" in hint for hint in hints_of(group, {}))
    glued = replace(group, way="edge_to_edge")
    assert any("odd" in hint for hint in hints_of(glued, {}))


def test_neighbours_whose_arrows_differ_are_named():
    _, group = looks_and_group((0, 1, 2, 3))
    one = replace(group, members=(turned(group.members[0]), *group.members[1:]))
    assert any("Arrows" in hint for hint in hints_of(one, {}))
    assert not any("Arrows" in hint for hint in hints_of(group, {}))


def test_arches_point_where_their_lines_meet():
    y, x = np.mgrid[0:90, 0:600] * MM_PER_PX
    # Nested arches open to the left, their tips to the right.
    rings = np.sin(2 * np.pi * (x / 14 + ((y - 34) / 9) ** 2))
    light = 150 + 40 * rings
    picture = np.repeat(light[..., None], 3, axis=2).astype(np.uint8)
    assert look_of(picture).cathedral == 1
    assert look_of(picture[:, ::-1].copy()).cathedral == -1
    assert look_of(np.full((90, 600, 3), 128, np.uint8)).cathedral == 0
