"""What the network is taught, painted from marks; training itself needs torch and a GPU."""

import importlib.util
from dataclasses import replace

import numpy as np
import pytest

from scanner.vision.flaws.learned_maps import CHANNELS
from scanner.vision.training.faces import TrainingFace
from scanner.vision.training.targets import SOME, WOOD, bit, planes

OUTLINE = np.array([[0.0, 10.0], [299.0, 10.0], [299.0, 109.0], [0.0, 109.0]])
SQUARE = [[50, 40], [69, 40], [69, 59], [50, 59]]


def face(*flaws, source="real", board="b", columns=300):
    pixels = np.zeros((120, columns, 3), np.uint8)
    return TrainingFace("f.jpg", board, source, pixels, OUTLINE, tuple(flaws))


def says(code, name):
    return (code & bit(name)) > 0


def is_open(code, name):
    return (code & bit(name, skip=True)) > 0


def test_codes_fit_into_what_float32_holds_exactly():
    assert WOOD + sum(SOME.values()) + sum(bit(n) + bit(n, skip=True) for n in CHANNELS) < 2**24


def test_a_loose_knot_is_a_spot_and_loose_and_deepest_in_its_middle():
    made = planes(face({"kind": "knot", "sound": False, "polygon": SQUARE}))
    assert says(made.code, "spot").sum() == 400
    assert says(made.code, "loose").sum() == 400
    assert not is_open(made.code, "loose")[50, 60]
    assert is_open(made.code, "loose")[20, 200]
    assert made.core[50, 60] > 240 > 60 > made.core[40, 60]


def test_a_knot_inside_another_keeps_its_own_middle():
    large = [[20, 20], [99, 20], [99, 99], [20, 99]]
    made = planes(
        face(
            {"kind": "knot", "sound": True, "polygon": SQUARE},
            {"kind": "knot", "sound": True, "polygon": large},
        )
    )
    assert made.core[50, 60] > 240


def test_a_small_knot_weighs_more_a_pixel():
    small = [[200, 50], [205, 50], [205, 55], [200, 55]]
    made = planes(
        face(
            {"kind": "knot", "sound": True, "polygon": SQUARE},
            {"kind": "knot", "sound": True, "polygon": small},
        )
    )
    assert made.weight[52, 202] > 2 * made.weight[50, 60]


def test_a_box_says_where_a_line_is_not_and_that_it_is_somewhere_inside():
    made = planes(face({"kind": "check", "sound": None, "box": [100, 50, 199, 59]}))
    inside = np.zeros(made.code.shape, bool)
    inside[50:60, 100:200] = True
    assert not says(made.code, "check").any()
    assert np.array_equal(is_open(made.code, "check"), inside)
    assert np.array_equal((made.code & SOME["check"]) > 0, inside)


def test_a_crack_of_a_laid_flat_photograph_is_taught_as_wide_as_it_shows():
    crack = {"kind": "check", "sound": None, "polygon": [[100, 50], [199, 50], [199, 50]]}
    thin, wide = face(crack), replace(face(crack), widened=True)
    assert says(planes(thin).code, "check").any(axis=1).sum() == 1
    assert says(planes(wide).code, "check").any(axis=1).sum() == 3


def test_a_crack_too_thin_to_show_is_neither_asked_for_nor_denied():
    crack = {"kind": "check", "sound": None, "polygon": [[100, 50], [199, 50], [199, 51]]}
    made = planes(face(crack | {"faint": True}))
    assert not says(made.code, "check").any()
    assert is_open(made.code, "check").sum() == (says(planes(face(crack)).code, "check")).sum() > 0


@pytest.mark.skipif(importlib.util.find_spec("torch") is None, reason="torch is not installed")
def test_held_layers_stay_bit_for_bit_while_the_others_learn():
    import torch

    from scanner.vision.training import net as nets
    from scanner.vision.training.descent import descend
    from scanner.vision.training.held import SHALLOW, hold_all_but

    net = nets.flaw_net()
    before = {name: values.clone() for name, values in net.state_dict().items()}
    hold_all_but(net, SHALLOW)
    shown = torch.randn(2, net.inputs, 32, 48)
    descend(
        net,
        lambda net: net(shown).square().mean(),
        minutes=60.0,
        most_rate=3e-3,
        kept=0.0,
        most_steps=5,
    )
    moved = {n.split(".")[0] for n, v in net.state_dict().items() if not torch.equal(v, before[n])}
    assert "head" in moved
    deep = [n for n in before if n.startswith(("down.1", "down.2", "down.3", "narrow.0", "join.0"))]
    assert deep
    assert all(torch.equal(net.state_dict()[n], before[n]) for n in deep)
    with pytest.raises(ValueError, match=r"no layer middle"):
        hold_all_but(net, ["middle"])


@pytest.mark.skipif(importlib.util.find_spec("torch") is None, reason="torch is not installed")
@pytest.mark.parametrize("name", ["flaw_net", "outline_net"])
def test_both_networks_answer_at_every_pixel_and_learn(name):
    import torch

    from scanner.vision.training import net as nets
    from scanner.vision.training.descent import descend

    net = getattr(nets, name)()
    shown = torch.randn(2, net.inputs, 32, 48)
    wanted = (shown[:, :1] > 0).float().expand_as(net(shown))

    def loss(net):
        return torch.nn.functional.binary_cross_entropy_with_logits(net(shown), wanted)

    before = float(loss(net))
    _, told = descend(net, loss, minutes=60.0, most_rate=3e-3, kept=0.9, most_steps=100)
    assert told[-1][1] < before


def test_a_lamp_seam_is_wood_without_a_flaw():
    made = planes(face({"kind": "seam", "sound": None, "polygon": SQUARE}))
    assert not says(made.code, "check").any()
    assert not is_open(made.code, "check").any()


def test_what_is_left_out_of_scoring_teaches_nothing():
    made = planes(face({"kind": "other", "sound": None, "polygon": SQUARE}))
    assert all(is_open(made.code, name)[50, 60] for name in CHANNELS)
    assert not is_open(made.code, "spot")[50, 200]


@pytest.mark.skipif(importlib.util.find_spec("torch") is None, reason="torch is not installed")
def test_the_boards_of_a_fold_are_whole_and_the_folds_are_alike():
    from scanner.vision.training.train import fold_of_boards

    faces = [face(board=f"b{n // 2}", columns=100 + 10 * n) for n in range(24)]
    dealt = fold_of_boards(faces, 4)
    assert len(dealt) == 12
    filled = [0] * 4
    for one in faces:
        filled[dealt[one.board]] += one.pixels.shape[1]
    assert max(filled) < 1.4 * min(filled)
