import numpy as np
import pytest

from scanner.vision.looks.phone import (
    _ALONG_LAMPS,
    _AROUND_INK,
    _AROUND_PAPER,
    _DIFFER,
    _INK,
    _LIKELIEST,
    _phone,
    _shown,
    phone_of,
)

WOOD = np.array([[0.46, 0.30, 0.17]])  # shares of the paper's light


def seen(*steps):
    """Return a phone that lies off the likeliest one by so many sd, and its paper and ink."""
    phone = _phone(_LIKELIEST + np.array(steps) * _DIFFER)
    return phone, _shown(phone, 1.0, _AROUND_PAPER), _shown(phone, _INK, _AROUND_INK)


def bytes_of_wood(phone):
    """Return the bytes of `WOOD` by looking for what goes back to its light."""
    shown = np.linspace(0.0, 1.0, 401)
    want, found = WOOD[0] * phone.paper, np.full(3, 0.5)
    for _ in range(25):  # each channel in turn: brightness around links them
        for k in range(3):
            trial = np.repeat(found[None], len(shown), axis=0)
            trial[:, k] = shown
            found[k] = np.interp(want[k], phone.of_wood(trial)[:, k], shown)
    return found[None]


def share_of_wood(phone, told):
    return (told.of_wood(bytes_of_wood(phone)) / told.paper)[0]


# White points of ISO/CIE 11664-2 (A, D65) and of CIE 15 (D50, D75), XYZ; sRGB of IEC 61966-2-1.
@pytest.mark.parametrize(
    "white", [(1.0985, 1.0, 0.3558), (0.9642, 1.0, 0.8249), (0.9497, 1.0, 1.2264)]
)
def test_lamps_and_daylight_lie_on_one_line_of_red_and_blue(white):
    to_rgb = np.linalg.inv(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    red, green, blue = np.log(to_rgb @ np.array(white))
    assert (red - green) / (blue - green) == pytest.approx(_ALONG_LAMPS, abs=0.02)


@pytest.mark.parametrize("contrast", [-1.5, 1.5])
def test_print_tells_how_much_a_phone_deepens_contrast(contrast):
    true, paper, ink = seen(0, 0, 0, 0, 0, contrast, 0)
    told, untold = phone_of(paper, ink), phone_of(paper, None)
    assert abs(told.contrast - true.contrast) < 0.006
    assert abs(untold.contrast - true.contrast) > 0.012


def test_wood_is_the_same_under_a_lamp_and_in_the_shade():
    shares = []
    for blue in (-1.1, 0.6):
        true, paper, ink = seen(0, blue, 0, 0, 0, 0.5, 0)
        shares.append(share_of_wood(true, phone_of(paper, ink)))
    assert shares[0] == pytest.approx(shares[1], rel=0.05)
    assert shares[0] == pytest.approx(WOOD[0], rel=0.06)


def test_a_wrong_balance_is_taken_off_the_wood():
    true, paper, ink = seen(0, 0, 0, 1.0, -1.0, 0, 0)
    with_ink = share_of_wood(true, phone_of(paper, ink))
    assert with_ink == pytest.approx(WOOD[0], rel=0.06)


def test_paper_of_another_place_goes_by_its_own_brightness():
    _, paper, ink = seen(0, 0, 0, 0, 0, 0, 0)
    told = phone_of(paper, ink)
    here, darker = told.of_paper(np.array([paper, 0.8 * paper]))
    assert here == pytest.approx(told.paper, rel=0.02)
    assert (darker < 0.75 * here).all()
