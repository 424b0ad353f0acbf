"""Will this photo do? Rule, scale and tilt at a glance, and what would make the photo better."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from scanner.errors import PhotoError, TooNearError
from scanner.units import inches_text
from scanner.vision.cv import grey_of
from scanner.vision.fit.verdict import refuse_near
from scanner.vision.rule.strip import strip_at_once
from scanner.vision.scale import fit_scale

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scanner.vision.fit.scale_fit import ScaleFit
    from scanner.vision.photos.picture import Photo
    from scanner.vision.rule.read_markers import Look
    from scanner.vision.setup import Setup

# A board of 8 ft: what the answer is given for.
USUAL_LENGTH_MM = 2438.4
# Markers are found for sure up to 1 mm per px at any tilt, up to 1.5 mm below 30 degrees.
_FINE_MM_PER_PX = 1.0
_COARSE_MM_PER_PX = 1.5
_LEVEL_TILT_DEG = 30.0
_STEEP_TILT_DEG = 40.0
# design: "rough" beyond this.
_ROUGH_U = 0.005
_NO_USE_U = 0.03
# A rule that ends so near the border is likely cut off.
_BORDER_SHARE = 0.01
_BLINDED, _DARK = 0.06, 45.0
_BY_STRIP = (
    "A coded strip lies there, and this answer goes by it: scan without the rule's size, for the"
    " strip tells lengths far better"
)


@dataclass(frozen=True, slots=True)
class FoundRule:
    """The rule in a photo.

    Attributes
    ----------
    corners
        (x, y) px, round the rule from its zero end.
    mm_per_px
        Along it, at its zero end, its middle and its other end.
    u_rel
        Relative U of a long length on a face beside it.
    """

    kind: Literal["strip", "plain"]
    length_mm: float
    corners: tuple[tuple[float, float], ...]
    mm_per_px: tuple[float, float, float]
    u_rel: float


@dataclass(frozen=True, slots=True)
class Trial:
    """What a look at one photo tells; ``advice`` holds what to do better, most important first."""

    rule: FoundRule | None
    tilt_deg: float | None
    advice: tuple[str, ...]
    refusal: str = ""

    @property
    def will_do(self) -> bool:
        """Whether lengths can be taken from this photo."""
        return self.rule is not None and not self.refusal and self.rule.u_rel <= _NO_USE_U

    @property
    def is_rough(self) -> bool:
        """Whether lengths from this photo are good for rough sizes only."""
        return self.rule is not None and self.will_do and self.rule.u_rel > _ROUGH_U

    @property
    def verdict(self) -> str:
        """The answer in one sentence."""
        return self.verdict_in("mm")

    def verdict_in(self, units: str) -> str:
        """Return the answer in one sentence, its lengths first as the user's units have them."""
        if self.rule is None or self.refusal:
            return f"This photo will not do. {self.refusal}"
        u = self.rule.u_rel * USUAL_LENGTH_MM
        first, second = (f"{u:.0f} mm", inches_text(u))[:: -1 if units == "inch" else 1]
        text = f"about ± {first} ({second}) over 8 ft"
        if not self.will_do:
            return f"This photo will not do: lengths would be off by {text}."
        if self.is_rough:
            return f"This photo will do for rough lengths: {text}."
        return f"This photo will do: lengths within {text}."


def try_out(photo: Photo, setup: Setup, strip_seen: Look | None = None) -> Trial:
    """Return whether a photo will do; the board itself is not looked for.

    Where a plain rule was told but a coded strip lies there the answer is the strip's, and says so.

    Parameters
    ----------
    setup
        As for a scan; only rule and thickness matter.
    strip_seen
        What one look showed of a coded strip, where that is known (`strip_at_once`).
    """
    seen = [doubt.removeprefix(f"{photo.name} ") for doubt in photo.doubts]
    seen = [f"this photo {doubt}" for doubt in seen] + _light(photo.pixels)
    # A strip's own graduations pass for a rule's, and searching them for the told one takes long.
    look = None
    if setup.rule is not None and setup.corners is None:
        look = strip_at_once(grey_of(photo.pixels))
    if look is not None:
        by_strip = try_out(photo, replace(setup, rule=None, rule2=None), look)
        if by_strip.rule is not None:
            # What mends a refusal stays first.
            first = 1 if by_strip.refusal else 0
            told = (*by_strip.advice[:first], _sentence(_BY_STRIP), *by_strip.advice[first:])
            return replace(by_strip, advice=told)
    try:
        # Where no rule shows this looks as long for one as a scan: "will not do" must not be said
        # where a scan would find it.
        fit = fit_scale((photo,), setup, however_near=True, at_a_glance=True, strip_seen=strip_seen)
    except PhotoError as refusal:
        return Trial(
            None, None, tuple([_sentence(refusal.mend), *map(_sentence, seen)]), str(refusal)
        )
    rule = _rule(fit)
    try:
        refuse_near(fit)
    except TooNearError as refusal:
        mend = (_sentence(refusal.mend), *map(_sentence, seen))
        return Trial(rule, round(fit.tilt_deg, 1), mend, str(refusal))
    advice = [*_nearer(fit, rule), *seen]
    if rule.u_rel > _ROUGH_U or fit.kind != "strip":
        advice.append(fit.largest_share)
    # What the first advice mends need not be said twice.
    known = (*photo.doubts, fit.largest_share[:14])
    advice += [doubt for doubt in fit.doubts if not any(one in doubt for one in known)]
    advice.append("for good lengths take a second photo of each face from the board's other side")
    return Trial(rule, round(fit.tilt_deg, 1), tuple(dict.fromkeys(map(_sentence, advice))))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def _rule(fit: ScaleFit) -> FoundRule:
    reference = fit.observations.references[0]
    length, width = reference.size_mm
    corners = fit.reference_px(
        0, 0, np.array([[0, 1], [length, 1], [length, -1], [0, -1]]) * [1, width / 2]
    )
    # Along the rule itself, at its own height, over a fifth of it: joints are not scale.
    ends = np.array([0.1, 0.5, 0.9])[:, None] * length + np.array([-0.1, 0.1]) * length
    pixels = fit.reference_px(0, 0, np.column_stack([ends.ravel(), np.zeros(6)])).reshape(3, 2, 2)
    steps = np.linalg.norm(pixels[:, 1] - pixels[:, 0], axis=1)
    scales = [round(0.2 * length / float(step), 3) for step in steps]
    return FoundRule(
        kind="strip" if fit.kind == "strip" else "plain",
        length_mm=length,
        corners=tuple((round(float(x), 1), round(float(y), 1)) for x, y in corners),
        mm_per_px=(scales[0], scales[1], scales[2]),
        u_rel=round(fit.u_scale, 5),
    )


def _nearer(fit: ScaleFit, rule: FoundRule) -> list[str]:
    out = []
    length = rule.length_mm
    # On the board's face, where tilt makes pixels coarser.
    worst = max(fit.mm_per_px(0, np.array([x, 0.0])) for x in (0.0, length / 2, length))
    tilt = fit.tilt_deg
    if worst > (_COARSE_MM_PER_PX if tilt < _LEVEL_TILT_DEG else _FINE_MM_PER_PX):
        out.append(
            f"go nearer: at the rule's far end nothing under {worst:.1f} mm can be seen; take a "
            "long board in two overlapping photos"
        )
    if tilt > _STEEP_TILT_DEG:
        out.append(f"hold the phone higher over the board: it was tilted by {tilt:.0f} degrees")
    size = np.array(fit.sizes_px[0])
    corners = np.array(rule.corners)
    margin = _BORDER_SHARE * size.max()
    if (corners < margin).any() or (corners > size - margin).any():
        out.append("step back a little: the rule reaches the border of the picture")
    return out


def _light(pixels: NDArray[np.uint8]) -> list[str]:
    thin = pixels[::16, ::16].max(axis=2)
    out = []
    if float((thin >= 253).mean()) > _BLINDED:
        out.append("part of the picture is blinded: move out of the sun, or switch the flash off")
    if float(np.median(thin)) < _DARK:
        out.append("the picture is dark: take it in more light")
    return out
