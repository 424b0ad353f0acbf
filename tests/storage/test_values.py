"""Values to documents and back."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from scanner.board.board import Board
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.board.form import Warp
from scanner.placement.layout import Layout
from scanner.placement.shop import Shop
from scanner.storage.values import DocumentError, from_document, to_document
from tests import common

_mm = st.floats(-5000, 5000, allow_nan=False)
_flaws = st.builds(
    Flaw,
    id=st.from_regex(r"F[1-9][0-9]?", fullmatch=True),
    kind=st.sampled_from(FlawKind),
    outlines=st.dictionaries(
        st.sampled_from([1, 2]), st.builds(box, _mm, _mm, _mm, _mm), max_size=2
    ),
    sound=st.sampled_from([True, False, None]),
    is_through=st.booleans(),
    reach_mm=st.none() | _mm,
    state=st.sampled_from(FlawState),
    score=st.none() | st.floats(0, 1),
    reason=st.none() | st.text(),
    u_mm=st.floats(0, 10),
)


def _through_text(value, kind):
    return from_document(kind, json.loads(json.dumps(to_document(value))))


@pytest.mark.slow
@given(_flaws)
def test_a_flaw_comes_back_as_it_was(flaw):
    assert _through_text(flaw, Flaw) == flaw


def test_a_board_comes_back_as_it_was():
    board = replace(
        common.ash_board(),
        warp=Warp(4.0, -1.5, 0.0, 6.2, sign_known=False),
        sapwood={1: (box(0, 0, 10, 10),), 2: ()},
        only_parts=("rail", "leg"),
        price=41.5,
    )
    assert _through_text(board, Board) == board


def test_an_outline_with_a_hole_keeps_the_hole():
    ring = Polygon([(0, 0), (9, 0), (9, 9)], [[(5, 1), (8, 1), (8, 4)]])
    flaw = Flaw("F1", FlawKind.STAIN, {1: ring})
    assert _through_text(flaw, Flaw).outlines[1].interiors[0].length == ring.interiors[0].length


def test_shop_and_layout_come_back_as_they_were():
    layout = common.small_layout()
    assert _through_text(layout, Layout) == layout
    assert _through_text(Shop.inch(), Shop) == Shop.inch()


@pytest.mark.parametrize(
    ("document", "says"),
    [
        ({"kerf_mm": "wide"}, "wide"),
        ({"kerf_mm": True}, "True"),
        ({"teeth": 60}, "teeth"),
        ({"cut_class": "freehand"}, "freehand"),
        ([], "Shop"),
    ],
)
def test_a_document_of_another_shape_is_refused_by_name(document, says):
    with pytest.raises(DocumentError, match=says):
        from_document(Shop, document)


def test_a_field_that_came_later_takes_its_default():
    document = to_document(common.ash_board())
    assert isinstance(document, dict)
    del document["moisture"]
    assert from_document(Board, document).moisture is None
