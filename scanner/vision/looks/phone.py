"""What a phone made of the light: its curves, its balance and stray light, from white and black.

Paper and its print lie in one light and give back known shares of it. Where the phone shows them
tells, with what phones do and what lights there are, the likeliest way from light to bytes; wood
lies between both, and goes that way back.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import least_squares

from scanner.vision.photos.light import bytes_of, light_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

# Printed black against its paper (renderings have 0.035, toner about 0.05: from memory, no source).
_INK = 0.035
# Daylight and lamps lie on one line: where blue is less by 1, natural logarithm, red is more by so
# much (standard illuminants A, D50, D65 and D75 of ISO/CIE 11664-2 in linear sRGB, each 0.62 to
# 0.63).
_ALONG_LAMPS = -0.63
# Unknown of a photo, what is likeliest before it is seen, and by how much (one sd) phones and
# lights differ: paper's light and the light's blue (natural logarithms), red off the line of lamps,
# what the white balance leaves along blue and yellow and along green, how much contrast deepens,
# stray light as a share of the paper's. They are those of tests/render; other phones differ
# otherwise. Little hangs on them: halved or doubled, each moves the 95th percentile of delta E
# between two lights by less than 0.4 (odd seeds of 77001-77123). With paler print, bluer paper, or
# phones that even out or deepen less or more (10 of these) it stays 1.5 to 2.5 below what paper
# alone gave (all of the shoulder undone).
_LIKELIEST = np.array([-0.5, 0.0, 0.0, 0.0, -0.004, 0.04, 0.008])
_DIFFER = np.array([0.5, 0.2, 0.02, 0.022, 0.008, 0.010, 0.0025])
# How well this meets the bytes of paper and print (the renderer's).
_U_PAPER, _U_INK = 0.004, 0.003
# Phones lift what lies among the dark and lower what lies among the bright: by this power of the
# brightness around. Around the paper lie print and floor, around print is paper.
_EVENED, _MIDDLE = 0.13, 0.54
_AROUND_PAPER, _AROUND_INK = 0.77, 0.44
_LUMA = np.array([0.30, 0.59, 0.11])  # of bytes (ITU-R BT.601)
# Most phones press the bright half of light together, by a soft shoulder up to white; some do not.
# So much of it is undone: neither comes out much worse than it could (15 boards, 77061-77121: 95th
# percentile of delta E 3.7 with it and 3.7 without; all undone 3.3 and 4.5, paper alone had 5 and
# 7). Looked for after the second renderer's development pictures had come out worse with all of it
# undone, so that renderer is no unseen test of colour.
_SHOULDER = 0.8
_TRUE = np.linspace(-0.1, 1.2, 2601)
_LIGHT = np.linspace(-0.01, 3.0, 3011)
_OWN = np.linspace(0.005, 1.2, 1200)


@dataclass(frozen=True, slots=True, eq=False)
class Phone:
    """How one photo shows light.

    Attributes
    ----------
    balance
        (3,) what its white balance does to each channel's bytes.
    contrast
        Bytes move by so much of a sine: darker below the middle, brighter above.
    stray
        (3,) light that strayed over all of it.
    paper
        (3,) light that white paper gives back, stray light left out.
    """

    balance: Floats
    contrast: float
    stray: Floats
    paper: Floats

    def of_paper(self, shown: Floats) -> Floats:
        """Return the light of paper (N, 3) that shows so, bytes 0 to 1."""
        luma = bytes_of(_pressed(self.paper + self.stray)) @ _LUMA
        return self._of(_uneven(self._plain(shown), _AROUND_PAPER / float(luma)))

    def of_wood(self, shown: Floats) -> Floats:
        """Return the light of wood (N, 3) with its like around it."""
        return self._of(_uneven(self._plain(shown), 1.0))

    def _plain(self, shown: Floats) -> Floats:
        """Return bytes with contrast and balance undone."""
        return np.asarray(np.interp(shown, _deepened(_TRUE, self.contrast), _TRUE) / self.balance)

    def _of(self, plain: Floats) -> Floats:
        return np.asarray(np.maximum(_unpressed(light_of(plain)) - self.stray, 1e-4))


def phone_of(paper: Floats, ink: Floats | None) -> Phone:
    """Return the likeliest phone and light.

    Parameters
    ----------
    paper, ink
        (3,) bytes 0 to 1 of blank paper and of what is printed on it; None on blank paper.
    """

    def misses(unknown: Floats) -> Floats:
        phone = _phone(unknown)
        parts = [(_shown(phone, 1.0, _AROUND_PAPER) - paper) / _U_PAPER]
        if ink is not None:
            parts.append((_shown(phone, _INK, _AROUND_INK) - ink) / _U_INK)
        return np.concatenate([*parts, (unknown - _LIKELIEST) / _DIFFER])

    return _phone(least_squares(misses, _LIKELIEST, method="lm").x)


def _phone(unknown: Floats) -> Phone:
    bright, blue, red, warm, green, contrast, stray = unknown
    paper = np.exp(bright + np.array([_ALONG_LAMPS * blue + red, 0.0, blue]))
    balance = np.array([1 + warm, 1 + green, 1 - warm])
    return Phone(balance, float(contrast), stray * paper, paper)


def _shown(phone: Phone, share: float, around: float) -> Floats:
    """Return the bytes (3,) of what gives back a share of the paper's light."""
    plain = bytes_of(_pressed(share * phone.paper + phone.stray)) * _evened(around)
    return _deepened(plain * phone.balance, phone.contrast)


def _deepened(shown: Floats, contrast: float) -> Floats:
    return np.asarray(shown + contrast * np.sin(2 * np.pi * (shown - 0.5)))


def _evened(around: Floats | float) -> Floats:
    """Return by what bytes are multiplied where it is so bright around."""
    return np.asarray((_MIDDLE / (np.asarray(around) + 0.02)) ** _EVENED)


def _uneven(plain: Floats, around: float) -> Floats:
    """Return bytes (N, 3) as before they were evened out, ``around`` times as bright around."""
    luma = np.maximum(plain @ _LUMA, _OWN[0])
    before = np.interp(luma, _OWN * _evened(around * _OWN), _OWN)
    return np.asarray(plain * (before / luma)[:, None])


def _pressed(light: Floats) -> Floats:
    """Return light as phones press the bright half together."""
    over = np.maximum(light - 0.5, 0.0)
    pressed = 0.5 - 0.5 * np.exp(-over / 0.5)
    return np.asarray(light + _SHOULDER * np.where(light > 0.5, pressed - over, 0.0))


def _unpressed(light: Floats) -> Floats:
    return np.interp(light, _pressed(_LIGHT), _LIGHT)
