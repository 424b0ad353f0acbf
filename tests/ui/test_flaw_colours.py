"""Kinds of flaw are told apart on the wood by colour, also by colour-blind eyes, and by pattern."""

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

import ui.board_view
from scanner.board.flaw import FlawKind

_CSS = Path(ui.board_view.__file__).with_name("wood.css").read_text()
# Severity 1.0, linear RGB: G. Machado, M. Oliveira, L. Fernandes, "A Physiologically-based Model
# for Simulation of Color Vision Deficiency", IEEE TVCG 15 (2009); figures from memory.
_EYES = {
    "usual": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
         [-0.003882, -0.048116, 1.051998]]),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
         [-0.011820, 0.042940, 0.968881]]),
    "tritan": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
         [0.004733, 0.691367, 0.303900]]),
}  # fmt: skip
# Two colours further apart than this are seen as two at a glance (common practice, no source: 1 is
# just seen side by side, 10 at once).
_AT_ONCE = 10.0


def _look_of(kind):
    """Return colour and pattern of a kind of flaw, as the stylesheet has them."""
    usual = re.search(r"--mark, (#\w{6})\)", _CSS).group(1), "none"
    rule = re.search(rf"\.flaw\.kind-{kind}\b[^{{]*{{([^}}]*)}}", _CSS)
    if rule is None:
        return usual
    return tuple(re.search(rf"--{name}: ([^;]+);", rule.group(1)).group(1)
                 for name in ("mark", "pattern"))  # fmt: skip


_LOOKS = sorted({_look_of(kind.value) for kind in FlawKind})


def _lab(colour, eyes):
    coded = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    seen = np.clip(_EYES[eyes] @ linear, 0, 1)
    shown = np.where(seen <= 0.0031308, seen * 12.92, 1.055 * seen ** (1 / 2.4) - 0.055)
    return rgb2lab(shown.reshape(1, 1, 3))


def test_every_group_of_kinds_has_a_colour_and_a_pattern_of_its_own():
    assert len(_LOOKS) >= 6
    for place in (0, 1):
        assert len({look[place] for look in _LOOKS}) == len(_LOOKS)


@pytest.mark.parametrize("eyes", _EYES)
def test_colours_of_flaws_are_told_apart_by(eyes):
    near = {
        (one, other): round(float(deltaE_ciede2000(_lab(one, eyes), _lab(other, eyes)).item()), 1)
        for (one, _), (other, _) in combinations(_LOOKS, 2)
    }
    assert {pair: far for pair, far in near.items() if far < _AT_ONCE} == {}
