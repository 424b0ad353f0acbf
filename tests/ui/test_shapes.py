"""What a board looks like goes to a window once; what was said of it goes every time."""

import pytest

from ui.board_view.shapes import Shapes, held_by

_SQUARE = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0))
_SPOT = ((2.0, 2.0), (3.0, 2.0), (3.0, 3.0))


def board(*rings, state="possible"):
    faces = [{"number": 1, "outline": _SQUARE}]
    return faces, [{"id": f"F{n}", "state": state, "rings": one} for n, one in enumerate(rings)]


def test_a_new_window_is_sent_every_outline():
    shapes = Shapes([])
    sent = shapes.named(*board({1: _SPOT}))
    assert shapes.lacking[sent["shapes"]] == {"outlines": [_SQUARE], "rings": [{1: _SPOT}]}
    assert sent["flaws"] == [{"id": "F0", "state": "possible"}]
    assert sent["faces"] == [{"number": 1}]


def test_what_is_said_of_a_flaw_brings_no_outline():
    first, again = Shapes([]), Shapes([])
    held = first.named(*board({1: _SPOT}))["shapes"]
    after = Shapes([held])
    sent = after.named(*board({1: _SPOT}, state="struck"))
    assert after.lacking == {} and sent["flaws"][0]["state"] == "struck"
    # A restarted server calls it the same.
    assert again.named(*board({1: _SPOT}))["shapes"] == held


@pytest.mark.parametrize(
    "other",
    [
        ({1: (*_SPOT, (2.0, 3.0))},),
        ({2: _SPOT},),
        ({1: _SPOT, 2: _SPOT},),
        ({1: _SPOT}, {1: _SPOT}),
        ({1: _SPOT}, {}),
        (),
    ],
    ids=["reshaped", "on the other face", "on both faces", "drawn beside", "no ring", "taken out"],
)
def test_another_drawing_has_another_name(other):
    held = Shapes([]).named(*board({1: _SPOT}))["shapes"]
    after = Shapes([held])
    assert after.named(*board(*other))["shapes"] in after.lacking


def test_a_ring_that_changes_its_flaw_is_another_drawing():
    rings = {1: _SPOT}, {2: _SQUARE}
    one = Shapes([]).named(*board(*rings, {}))["shapes"]
    assert Shapes([]).named(*board(rings[0] | rings[1], {}, {}))["shapes"] != one


@pytest.mark.parametrize("sent", [{}, {"shapes": None}, {"shapes": [1, {}]}, {"shapes": "abc"}])
def test_nonsense_from_a_window_counts_as_nothing_held(sent):
    assert held_by(sent) == []


def test_a_window_says_what_it_holds():
    assert held_by({"n": "a-1", "ops": [], "shapes": ["0a", "0b"]}) == ["0a", "0b"]
