"""Read what a person typed about a board: thickness, rule, taped lengths, warp, corners."""

from __future__ import annotations

import math
import re

from scanner.board.form import Warp
from scanner.board.measured import Measured
from scanner.board.tape import tape_u_mm
from scanner.board.volume import (
    CALIPER_U_MM,
    LONGEST_MM,
    SHORTEST_MM,
    THICKEST_MM,
    THINNEST_MM,
    thickness_of_class,
)
from scanner.errors import SettingsError
from scanner.units import LengthError, is_bare_fraction, read_length_mm, read_quarters
from scanner.vision.setup import Corners, RuleSize

# A taped strip is good to 0.5-1 mm (1 sd); its ends are printed lines.
_STRIP_TAPED_U_MM = 2.0
# A board's ends are not: finding their mid-widths costs 1 mm (1 sd, common practice, no source).
_BOARD_ENDS_U_MM = 2.0
# No board that anybody photographs is bent by more.
_MOST_WARP_MM = 300.0
_TIMES = re.compile(r"\s*[x×]\s*", re.IGNORECASE)


def refuse_other_units(units: str) -> None:
    """Refuse a unit of bare figures that is neither ``mm`` nor ``inch``."""
    if units not in ("mm", "inch"):
        raise SettingsError(f'--units: "{units}" is neither', "write mm or inch")


def read_batten(text: str, units: str = "mm") -> float:
    """Return the thickness of a batten, mm: one that no board has was mistyped."""
    batten, _ = _taped(text, "--batten", units)
    if batten > THICKEST_MM:
        raise SettingsError(
            f"--batten: a batten {batten:.0f} mm thick is not plausible",
            "give its thickness with its unit, such as 27mm",
        )
    return batten


def read_size(text: str, option: str, units: str = "mm") -> float:
    """Return a length above zero, mm, typed for an option.

    A fraction without a unit is refused where bare figures are millimetres: it is meant in inches,
    and a batten of 0.75 mm would make every length wrong without a sign of it.
    """
    refuse_other_units(units)
    if units == "mm" and is_bare_fraction(text):
        raise SettingsError(f"{option}: {text!r} has no unit", f'write "{text.strip()} in"')
    try:
        length = read_length_mm(text, units)
    except LengthError as problem:
        raise SettingsError(f"{option}: {problem}", "mend the length and run it again") from None
    if length <= 0:
        raise SettingsError(f"{option}: {text!r} is not above zero", "give a length above zero")
    return length


def read_thickness(text: str, units: str = "mm") -> Measured:
    """Return the thickness of ``4/4`` (rough) or a measured ``27 mm``, ``1 1/8 in``."""
    quarters = read_quarters(text)
    thickness = (
        thickness_of_class(quarters)
        if quarters is not None
        else Measured(read_size(text, "--thickness", units), CALIPER_U_MM)
    )
    if not THINNEST_MM <= thickness.value_mm <= THICKEST_MM:
        raise SettingsError(
            f"--thickness: a board {thickness.value_mm:.0f} mm thick is not plausible",
            "give quarters such as 4/4, or a measured thickness with its unit",
        )
    return thickness


def _sizes(text: str, option: str, units: str) -> list[float]:
    """Return what stands between the x's, mm; without one before and after each, the whole text."""
    pieces = _TIMES.split(text.strip())
    return [read_size(piece, option, units) for piece in (pieces if all(pieces) else [text])]


def read_rule(text: str, option: str = "--rule", units: str = "mm") -> RuleSize:
    """Return the rule written ``36in``, ``36in x 28mm`` or ``36in x 28mm x 1mm``."""
    sizes = _sizes(text, option, units)
    if len(sizes) > 3:
        raise SettingsError(
            f"{option}: {text!r} has more than three sizes", "write 36in x 28mm x 1mm"
        )
    length, width, thickness = (*sizes, None, None)[:3]
    assert length is not None
    if length < 100:
        raise SettingsError(
            f"{option}: a rule of {length:.0f} mm is too short to scale a board",
            "give its length with the unit, such as 36in",
        )
    return RuleSize(length, width, thickness)


def read_taped(text: str, option: str, units: str = "mm") -> Measured:
    """Return a board's length by tape, ``2438 mm`` or, with its U, ``2438 mm x 1 mm``."""
    length, u = _taped(text, option, units)
    if length < SHORTEST_MM:
        raise SettingsError(
            f"{option}: {length:.0f} mm is shorter than any board", "give the unit, such as 96in"
        )
    return Measured(length, math.hypot(tape_u_mm(length), _BOARD_ENDS_U_MM) if u is None else u)


def read_taped_strip(text: str, option: str, units: str = "mm") -> Measured:
    """Return how long a strip is by tape, ``2501.5 mm`` or, with its U, ``2501.5 mm x 1 mm``."""
    length, u = _taped(text, option, units)
    return Measured(length, _STRIP_TAPED_U_MM if u is None else u)


def _taped(text: str, option: str, units: str) -> tuple[float, float | None]:
    """Return a length, mm, and its U where that was typed."""
    sizes = _sizes(text, option, units)
    if len(sizes) > 2:
        raise SettingsError(
            f"{option}: {text!r} has more than two sizes", "write 2438mm or 2438mm x 1mm"
        )
    if sizes[0] > LONGEST_MM:
        raise SettingsError(
            f"{option}: {sizes[0] / 1000:.1f} m is longer than any board",
            "give the unit, such as 96in",
        )
    return sizes[0], sizes[1] if len(sizes) == 2 else None


def read_corners(text: str, option: str) -> Corners:
    """Return four photo points written ``"x,y x,y x,y x,y"``."""
    try:
        points = tuple((float(x), float(y)) for x, y in (p.split(",") for p in text.split()))
    except ValueError:
        points = ()
    if len(points) != 4:
        raise SettingsError(
            f'{option}: "{text}" is not four points',
            'write "x,y x,y x,y x,y", round the rule from its zero end',
        )
    twice_area = sum(
        x0 * y1 - x1 * y0
        for (x0, y0), (x1, y1) in zip(points, (*points[1:], points[0]), strict=True)
    )
    # Nothing that is seen in a photo is smaller than a pixel; NaN and infinity are no place.
    if not 2.0 <= abs(twice_area) < math.inf:
        raise SettingsError(
            f'{option}: the four points "{text}" enclose nothing', "give its four corners in order"
        )
    return points


def read_warp(
    bow: str | None, cup: str | None, twist: str | None, units: str = "mm"
) -> Warp | None:
    """Return the warp as typed; a bow or cup without a sign has an unknown direction."""
    if bow is None and cup is None and twist is None:
        return None

    def signed(text: str | None, option: str) -> float | None:
        if text is None:
            return None
        body = text.strip().lstrip("+-").strip()
        if re.fullmatch(r"0([.,]0*)?", body):
            return 0.0
        bend = read_size(body, option, units)
        if bend > _MOST_WARP_MM:
            raise SettingsError(
                f"{option}: no board is bent by {bend:.0f} mm",
                "measure the gap under the board again, or look at the unit",
            )
        return -bend if text.strip().startswith("-") else bend

    bends = {option: signed(text, option) for option, text in (("--bow", bow), ("--cup", cup))}
    typed = ((bow, bends["--bow"]), (cup, bends["--cup"]))
    height = signed(twist, "--twist")
    return Warp(
        bow_mm=bends["--bow"],
        cup_mm=bends["--cup"],
        twist_mm=None if height is None else abs(height),
        sign_known=all(not bend or (text or "").strip()[:1] in "+-" for text, bend in typed),
    )
