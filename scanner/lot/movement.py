"""How much wood moves between two moisture contents (Wood Handbook FPL-GTR-190, chapter 13).

Between 6 and 14 per cent by the dimensional change coefficients of Table 13-5 (formula 13-2: size x
coefficient x change of moisture content); beyond that from the shrinkage values of Table 4-3
(formula 13-3). Both overstate width and understate thickness a little, as few boards are truly
flatsawn or quartersawn. Lengthwise movement is neglected (0.1 to 0.2 % green to ovendry).

Softwood sawn for building is neither flatsawn nor quartersawn: its width shrinks from green by
6.031 - 0.215 M per cent at moisture content M (Forest Products Laboratory, FPL-RP-489).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from scanner.errors import SettingsError

Sawn = Literal["flatsawn", "quartersawn"]

# Above the fibre saturation point wood does not move.
FIBRE_SATURATION = 30.0
_COEFFICIENTS_HOLD = (6.0, 14.0)


@dataclass(frozen=True, slots=True)
class WoodMovement:
    """What a species does.

    Attributes
    ----------
    radial, tangential
        Change per 1 % of moisture content, as a share of the size (Table 13-5); None = not listed.
    shrinkage_radial, shrinkage_tangential
        Green to ovendry, per cent (Table 4-3); None = not listed.
    shrunk
        (a, b): at moisture content M a width is a - b M per cent less than green, however it was
        sawn (FPL-RP-489); None = the tables above serve.
    """

    radial: float | None = None
    tangential: float | None = None
    shrinkage_radial: float | None = None
    shrinkage_tangential: float | None = None
    shrunk: tuple[float, float] | None = None


# Values from memory, not read in the handbook: white fir tangential (it fits the printed example),
# yellow-poplar's coefficients, northern red oak's shrinkage.
SPECIES: Mapping[str, WoodMovement] = {
    "alder": WoodMovement(0.00151, 0.00256, 4.4, 7.3),
    "white ash": WoodMovement(0.00169, 0.00274, 4.9, 7.8),
    "green ash": WoodMovement(None, None, 4.6, 7.1),
    "aspen": WoodMovement(None, None, 3.5, 6.7),
    "basswood": WoodMovement(0.00230, 0.00330, 6.6, 9.3),
    "beech": WoodMovement(0.00190, 0.00431, 5.5, 11.9),
    "yellow birch": WoodMovement(0.00256, 0.00338, 7.3, 9.5),
    "butternut": WoodMovement(0.00116, 0.00223, 3.4, 6.4),
    "cherry": WoodMovement(0.00126, 0.00248, 3.7, 7.1),
    "chestnut": WoodMovement(0.00116, 0.00234, 3.4, 6.7),
    "douglas-fir": WoodMovement(None, None, 4.8, 7.6),
    "elm": WoodMovement(0.00144, 0.00338, 4.2, 9.5),
    "hickory": WoodMovement(0.00169, 0.00315, 4.9, 8.9),
    "hard maple": WoodMovement(0.00165, 0.00353, 4.8, 9.9),
    "red maple": WoodMovement(0.00137, 0.00289, None, None),
    "silver maple": WoodMovement(0.00102, 0.00252, None, None),
    "red oak": WoodMovement(0.00158, 0.00369, 4.0, 8.6),
    "white oak": WoodMovement(0.00180, 0.00365, 5.6, 10.5),
    "sweetgum": WoodMovement(0.00183, 0.00365, 5.3, 10.2),
    "sycamore": WoodMovement(0.00172, 0.00296, 5.0, 8.4),
    "walnut": WoodMovement(0.00190, 0.00274, 5.5, 7.8),
    "white fir": WoodMovement(0.00112, 0.00245, None, None),
    "yellow-poplar": WoodMovement(0.00158, 0.00289, 4.6, 8.2),
    "softwood lumber": WoodMovement(shrunk=(6.031, 0.215)),
}


def change_mm(
    size_mm: float, species: str, sawn: Sawn, from_percent: float, to_percent: float
) -> float:
    """Return how much a size across the grain grows (negative: shrinks), mm.

    Parameters
    ----------
    size_mm
        Width of a flatsawn or quartersawn part at ``from_percent``. For the *thickness* of a
        flatsawn part ask ``quartersawn``: it lies radially.
    species
        A name in ``SPECIES``.
    from_percent, to_percent
        Moisture contents, per cent of the ovendry weight, 0 and more.

    Raises
    ------
    SettingsError
        A species, or a moisture content for it, that the tables do not hold.
    """
    wood = SPECIES.get(species.strip().lower())
    if wood is None:
        known = ", ".join(sorted(SPECIES))
        raise SettingsError(f'no table has the movement of "{species}"', f"choose one of {known}")
    if min(from_percent, to_percent) < 0:
        raise SettingsError("a moisture content is never negative", "write it like 8")
    if wood.shrunk is not None:
        start, stop = (_share_of_green(wood.shrunk, m) for m in (from_percent, to_percent))
        return size_mm * (stop / start - 1)
    low, high = _COEFFICIENTS_HOLD
    radially = sawn == "quartersawn"
    coefficient = wood.radial if radially else wood.tangential
    is_near = low <= min(from_percent, to_percent) and max(from_percent, to_percent) <= high
    if is_near and coefficient is not None:
        return size_mm * coefficient * (to_percent - from_percent)
    shrinkage = wood.shrinkage_radial if radially else wood.shrinkage_tangential
    if shrinkage is None:
        raise SettingsError(
            f"the table holds {species} between {low:g} and {high:g} % only",
            "ask for moisture contents in between",
        )
    start, stop = min(from_percent, FIBRE_SATURATION), min(to_percent, FIBRE_SATURATION)
    green_share = FIBRE_SATURATION * 100 / shrinkage - FIBRE_SATURATION + start
    return size_mm * (stop - start) / green_share


def _share_of_green(shrunk: tuple[float, float], percent: float) -> float:
    """Return what is left of a green width, 1 above the moisture where shrinking begins."""
    most, less = shrunk
    return 1 - max(most - less * percent, 0.0) / 100
