"""What to buy, in the words that every output shares."""

from collections.abc import Iterable

from scanner.lot.buying import MOST_BOARDS, OWN, ChanceCurve
from scanner.lot.need import waste_of
from scanner.lot.ripped import resawn_blanks
from scanner.lot.strip_widths import width_lines
from scanner.placement.parts import PartsList
from scanner.placement.shop import Shop
from scanner.units import decimal_text, exact_text, percent_text

# Extra to buy: most projects; those choosy about grain and colour (common practice, no source).
RULE_OF_THUMB = (0.15, 0.20)
RULE_WHEN_CHOOSY = (0.40, 0.50)
NO_PROMISE_OF_A_YARD = (
    "Drawn at random from a grade's published averages: for planning, no promise of what the yard"
    " has."
)


NO_PROMISE_OF_OWN = (
    "Drawn at random from your own boards: a few say little of a whole lot, and nothing of what the"
    " yard has."
)


def buying_lines(curves: Iterable[ChanceCurve], shop: Shop | None = None) -> tuple[str, ...]:
    """Return a few lines for each species and thickness class, and what they rest on.

    With shop settings also which widths of boards to ask for.
    """
    told = tuple(curves)
    lines: list[str] = []
    for curve in told:
        lines += _lines(curve)
        if shop is not None and curve.need.quarters is not None:
            lines += [f"  {line}" for line in _resawn(curve.need.parts, shop)]
            lines += [f"  {line}" for line in width_lines(curve.need, shop)]
    lines.append(no_promise(told))
    return tuple(lines)


def no_promise(curves: Iterable[ChanceCurve]) -> str:
    """Return what the simulated lots were drawn from, and that they promise nothing."""
    return NO_PROMISE_OF_OWN if any(c.grade == OWN for c in curves) else NO_PROMISE_OF_A_YARD


def title_of(curve: ChanceCurve) -> str:
    """Return ``white ash 4/4``."""
    species = curve.need.species or "any species"
    return f"{species} {curve.need.quarters}/4" if curve.need.quarters else species


def _lines(curve: ChanceCurve) -> list[str]:
    need = curve.need
    if need.quarters is None:
        thickest = max(part.thickness_mm for part in need.parts)
        return [f"{title_of(curve)}: no class is thick enough for {thickest:.1f} mm; glue it up"]
    title, rough = title_of(curve), need.rough_feet
    held = f"  the parts hold {_feet(need.net_feet)}, {_feet(rough)} with their allowances"
    if curve.grade == OWN and not curve.own:
        return [f"{title}: none of your own boards is of it; ask for a grade instead", held]
    wanted = curve.feet_for(0.9)
    if wanted is None:
        worst = max(curve.need.parts, key=lambda part: part.width_mm * part.length_mm)
        bought = OWN if curve.own else f"boards of {curve.grade}"
        return [
            f"{title}: fewer than nine in ten lots of {MOST_BOARDS} {bought} hold it all;"
            f" ask for wider or better boards (largest part: {worst.name})",
            held,
        ]
    extra = wanted / rough - 1
    least, most = curve.feet_between(0.9)
    between = f"{_feet(least)} to {_feet(most)}" if most else f"{_feet(least)} or more"
    half = curve.feet_for(0.5)
    even = "" if half is None else f"; half the lots would do with {_feet(half)}"
    low, high = (rough * (1 + share) for share in RULE_OF_THUMB)
    unlikely, likely = curve.chance_between(high)
    drawn = f" drawn from {curve.own} of your own boards" if curve.own else ""
    return [
        f"{title}: buy {_feet(wanted)} board feet of {curve.grade} for a 90 % chance that all fits",
        f"{held}: {percent_text(extra)} extra, {percent_text(waste_of(max(extra, 0.0)))} of it"
        " waste or left over (boards are bought whole)",
        f"  other {len(curve.trials)} lots{drawn} would say {between} (95 %){even}",
        f"  the rule of thumb, {percent_text(RULE_OF_THUMB[0])} to {percent_text(RULE_OF_THUMB[1])}"
        f" extra ({_feet(low)} to {_feet(high)}), would do in {percent_text(curve.chance(high))} of"
        f" the lots ({percent_text(unlikely)} to {percent_text(likely)})",
    ]


def _resawn(parts: PartsList, shop: Shop) -> list[str]:
    """Return why some of the wood is bought thicker than a part is."""
    blanks = {blank.name: blank for blank in resawn_blanks(parts, shop).values()}
    return [
        f"{name.removesuffix(', blank')}: two are sawn out of one piece"
        f" {exact_text(blank.thickness_mm + shop.cleanup_mm, shop.units)} thick when flat, and"
        " opened like a book"
        for name, blank in blanks.items()
    ]


def _feet(feet: float) -> str:
    return decimal_text(feet, 1)
