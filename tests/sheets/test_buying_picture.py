"""The picture of how much to buy shows the rules of thumb beside what the lots came to."""

import numpy as np
import pytest

from scanner.lot.buying import ChanceCurve, Trial
from scanner.lot.need import needs_of
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.sheets.buying_picture import draw_buying


@pytest.mark.parametrize("share", [0.175, 0.45])
def test_both_rules_of_thumb_lie_where_so_much_more_is_bought(share):
    (need,) = needs_of((Part("slat", 6, 900.0, 90.0, 20.0, Faces.BOTH, species="ash"),), Shop())
    curve = ChanceCurve(need, "FAS", (Trial(3, need.rough_feet),) * 8)
    pixels = np.asarray(draw_buying([curve]).convert("RGB"), float)

    def tint(more):
        """How yellow the picture is where so much more than the parts is bought."""
        end = 1.05 * 1.5
        x = round(pixels.shape[1] / 800 * (60 + (800 - 60 - 24) * (1 + more) / end))
        return float(np.median(pixels[180:340, x, 0] - pixels[180:340, x, 2]))

    assert tint(share) > 20 and tint(share - 0.08) < 5 and tint(share + 0.08) < 5
