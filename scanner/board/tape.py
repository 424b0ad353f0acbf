"""How far a shop's tape may be off, and so the U of a length that a person taped."""

import math

from scanner.units import MM_PER_INCH

# NIST Handbook 44, sec. 5.52, steel tapes: up to so many feet, tolerance in inches.
_US_STEPS = ((6, 1 / 32), (30, 1 / 16), (55, 1 / 8), (80, 3 / 16), (100, 1 / 4))
# 2014/32/EU Annex X (MI-008): a + b L mm, L in m rounded up; c more where the hook is used.
_EU_CLASSES = {"I": (0.1, 0.1, 0.1), "II": (0.3, 0.2, 0.2), "III": (0.6, 0.4, 0.3)}
# Standard deviation of laying on and reading again (JCGM 100 type A; of the usual order, 0.3 mm).
_REPEAT_MM = 0.3
# How a board's note of a taped length begins.
TAPED_NOTE = "By tape "


def us_tolerance_mm(length_mm: float) -> float:
    """Return the tolerance of a US steel tape from zero to this length (NIST HB 44, 5.52).

    Raises
    ------
    ValueError
        Longer than 100 ft, or negative.
    """
    for feet, inches in _US_STEPS:
        if 0 <= length_mm <= feet * 12 * MM_PER_INCH + 1e-6:
            return inches * MM_PER_INCH
    raise ValueError(f"tapes are known from 0 to 100 ft, got {length_mm} mm")


def eu_tolerance_mm(length_mm: float, tape_class: str = "II", *, hook: bool = True) -> float:
    """Return the maximum error of a European tape (2014/32/EU, MI-008), class I, II or III."""
    if length_mm < 0:
        raise ValueError(f"a length is not negative, got {length_mm}")
    a, b, c = _EU_CLASSES[tape_class]
    metres = math.ceil(length_mm / 1000 - 1e-9)
    return a + b * metres + (c if hook else 0.0)


def tape_u_mm(
    length_mm: float, marks_mm: float = MM_PER_INCH / 16, tolerance_mm: float | None = None
) -> float:
    """Return U of a taped length: tape, reading to half a mark, laying it on again.

    Parameters
    ----------
    marks_mm
        Distance of the tape's marks.
    tolerance_mm
        The tape's own tolerance; None: not known which tape, so the larger of the US one and of
        the European class II with hook.

    References
    ----------
    JCGM 100:2008: limits count as rectangular (half-width / sqrt 3); U = 2 u.
    """
    if tolerance_mm is None:
        tolerance_mm = max(us_tolerance_mm(length_mm), eu_tolerance_mm(length_mm))
    return 2 * math.hypot(tolerance_mm / math.sqrt(3), marks_mm / 2 / math.sqrt(3), _REPEAT_MM)
