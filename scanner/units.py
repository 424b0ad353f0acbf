"""Read and print lengths ("7/8 in", "2.4 m", "5/4"); the only file that knows 25.4."""

import re
from fractions import Fraction

MM_PER_INCH = 25.4
MM2_PER_SQUARE_FOOT = 144 * MM_PER_INCH**2

_MM_PER_UNIT = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
    "foot": 12 * MM_PER_INCH,
    "feet": 12 * MM_PER_INCH,
    "'": 12 * MM_PER_INCH,
}
_METRIC = ("mm", "cm", "m")
_FEET = ("ft", "foot", "feet", "'")
# What word processors, spreadsheets and phones put for the marks of a tape.
_PLAIN = str.maketrans(
    {
        **dict.fromkeys("”“„″", '"'),
        **dict.fromkeys("’‘′", "'"),  # noqa: RUF001 (these signs are meant)
        **dict.fromkeys("⁄∕", "/"),  # noqa: RUF001
        **dict.fromkeys("‐‑–", "-"),  # noqa: RUF001
    }
)
# Signs that nobody sees and that come along when a cell is copied.
_UNSEEN = re.compile("[\u00ad\u200b\u200e\u200f\u202a-\u202e\u2060-\u2069\ufeff]")
_VULGAR = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
}
_NUMBER = r"(?:\d+\s+\d+/\d+|\d+-\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?|[.,]\d+)"
_TERM = re.compile(
    rf"\s*({_NUMBER})\s*(mm|cm|m|inches|inch|in|feet|foot|ft|\"|')?(?:(?<=in|ft)\.(?!\d))?"
)
# 1,200 is a length of metres or one of millimetres, by where the writer lives.
_THOUSANDS = re.compile(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?!\d)")
# No sixteenth is meant by a size further from it than a fence is set to.
_SETTABLE_MM = 0.1
# Where a size must not be broken over two lines: "1 3/4" read as "1" spoils a cut.
_IN_A_SIZE = re.compile(r" (?=± )|(?<=±) |(?<=\d) (?=\d+/\d|(?:mm|cm|m|in|ft)\b)")
# Fine enough for a tape, coarse enough to read: sixteenths.
_DENOMINATOR = 16


def shortened(text: str) -> str:
    """Return what somebody wrote, short enough to stand in a sentence."""
    return text if len(text) <= 40 else f"{text[:37]}..."


class LengthError(ValueError):
    """A text that should be a length is none; its message says how to write one.

    ``what`` is the message without that, for whoever has an example nearer at hand.
    """

    def __init__(self, what: str, how: str) -> None:
        """Say what is wrong, and how to write it."""
        self.what = what
        super().__init__(f"{what} ({how})")


def _number(text: str) -> float:
    whole = text.replace("-", " ").replace(",", ".").split()
    return float(sum(Fraction(piece) for piece in whole))


def without_unseen(text: str) -> str:
    """Return a text without the signs that nobody sees, such as marks of writing direction."""
    return _UNSEEN.sub("", text)


def _without_glyphs(text: str) -> str:
    text = without_unseen(text).translate(_PLAIN).replace("''", '"')
    for glyph, plain in _VULGAR.items():
        text = re.sub(rf"(\d){glyph}", rf"\1 {plain}", text).replace(glyph, plain)
    return text


def is_bare(text: str) -> bool:
    """Whether a text is one figure, such as ``23 1/2``, without a unit."""
    return re.fullmatch(_NUMBER, _without_glyphs(text).strip()) is not None


def is_bare_fraction(text: str) -> bool:
    """Whether a text is a figure with a fraction and without a unit: nobody means millimetres."""
    return is_bare(text) and "/" in _without_glyphs(text)


def read_length_mm(text: str, default_unit: str = "mm") -> float:
    """Return the length in mm that a person typed.

    Parameters
    ----------
    text
        For example ``23 1/2``, ``23.5 in``, ``597 mm``, ``2' 3"``, ``8ft``, ``1,5 m``. Of several
        terms each is less than one of the unit before it: ``1'200`` is none, as it is 1200 where
        that mark parts thousands.
    default_unit
        The unit of a bare number: ``mm`` or ``inch``.

    Raises
    ------
    LengthError
        The text is not a length. Negative numbers are none; ``1,200`` is refused, as it is 1200
        to one reader and 1.2 to another.
    """
    rest = _without_glyphs(text.lower()).strip()
    doubtful = _THOUSANDS.search(rest)
    if doubtful:
        whole, point = doubtful.group().replace(",", ""), doubtful.group().replace(",", ".")
        raise LengthError(
            f'"{shortened(text)}" may mean {whole} or {point}', "write it without the comma"
        )
    total, terms, before = 0.0, 0, ""
    while rest:
        match = _TERM.match(rest)
        # A bare number after feet is inches (2' 3); after another unit it may be anything.
        if match is None or (terms and not match.group(2) and before not in _FEET):
            break
        try:
            value = _number(match.group(1))
        except (ValueError, ZeroDivisionError, OverflowError):
            break
        unit = match.group(2) or ("inch" if terms else default_unit)
        if terms and not _goes_on(before, value, unit):
            break
        before = unit
        total += value * _MM_PER_UNIT[before]
        terms += 1
        rest = rest[match.end() :].strip()
        if match.group(2) is None:
            break
        if before in _FEET:
            # 5'-3 1/2": so drawings write it.
            rest = re.sub(r"^-\s*(?=[\d.,])", "", rest)
    if rest or not terms:
        raise LengthError(
            f'"{shortened(text)}" is no length', "write it like 23 1/2, 23.5 in or 597 mm"
        )
    return total


def _goes_on(before: str, value: float, unit: str) -> bool:
    """Whether a term may follow one of the unit before it: smaller, and of the same system."""
    same = (before in _METRIC) == (unit in _METRIC)
    return same and value * _MM_PER_UNIT[unit] < _MM_PER_UNIT[before]


def unit_of(text: str, default_unit: str = "mm") -> str:
    """Return ``mm`` or ``inch``: which of both a length was written in, where it names a unit."""
    named = re.findall(r"[a-z]+|[\"']", _without_glyphs(text.lower()))
    metric = any(name in _METRIC for name in named)
    return "mm" if metric else "inch" if named else default_unit


def read_quarters(text: str) -> int | None:
    """Return n of a thickness class written n/4 (``4/4``, ``5/4``), or None if it is not one."""
    match = re.fullmatch(r"\s*(\d{1,2})/4\s*", without_unseen(text).translate(_PLAIN))
    quarters = int(match.group(1)) if match else 0
    return quarters if quarters >= 2 else None


def inches_text(length_mm: float) -> str:
    """Return a length as whole inches and sixteenths, such as ``23 1/2 in``."""
    sixteenths = round(abs(length_mm) / MM_PER_INCH * _DENOMINATOR)
    whole, part = divmod(sixteenths, _DENOMINATOR)
    fraction = f"{Fraction(part, _DENOMINATOR)}" if part else ""
    sign = "-" if length_mm < 0 and sixteenths else ""
    body = " ".join(piece for piece in (str(whole) if whole or not part else "", fraction) if piece)
    return f"{sign}{body} in"


def length_text(length_mm: float, units: str = "mm", decimals: int = 0) -> str:
    """Return a length in the user's units: ``mm`` or ``inch``."""
    if units == "inch":
        return inches_text(length_mm)
    return f"{length_mm:.{decimals}f} mm"


def exact_text(length_mm: float, units: str = "mm") -> str:
    """Return a length to set a machine to; one that is no sixteenth has its mm beside it.

    ``20 mm``, ``3/4 in``; in an inch shop 20 mm is ``13/16 in (20 mm)``.
    """
    metric = f"{decimal_text(length_mm, 1)} mm"
    if units != "inch":
        return metric
    nearest = round(length_mm / MM_PER_INCH * _DENOMINATOR) * MM_PER_INCH / _DENOMINATOR
    fraction = inches_text(length_mm)
    return fraction if abs(nearest - length_mm) <= _SETTABLE_MM else f"{fraction} ({metric})"


def size_text(length_mm: float, width_mm: float, units: str = "mm") -> str:
    """Return length × width with the unit once: ``635 × 82 mm``, ``25 × 3 1/4 in``."""
    if units == "inch":
        return f"{inches_text(length_mm).removesuffix(' in')} × {inches_text(width_mm)}"
    return f"{length_mm:.0f} × {width_mm:.0f} mm"


def unbroken(text: str) -> str:
    """Return a text whose sizes stay on one line: ``2442 ± 5 mm``, ``1 1/16 in``."""
    return _IN_A_SIZE.sub("\u00a0", text)


def percent_text(share: float) -> str:
    """Return a share as whole per cent; never 0 % or 100 % for what is neither."""
    percent = round(100 * share)
    if percent == 0 and share > 0:
        return "under 1 %"
    if percent == 100 and share < 1:
        return "over 99 %"
    return f"{percent} %"


def decimal_text(value: float, decimals: int = 2) -> str:
    """Return a number without trailing zeros: 11.25, 5, 0.5."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def mm_from_inches(inches: float) -> float:
    """Return inches as millimetres."""
    return inches * MM_PER_INCH


def inches_from_mm(length_mm: float) -> float:
    """Return millimetres as inches."""
    return length_mm / MM_PER_INCH
