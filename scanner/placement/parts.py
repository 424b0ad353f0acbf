"""`Part` and `PartsList`: what is wanted, in finished sizes."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from scanner.errors import PlacementError


class Faces(StrEnum):
    """What a part asks of its faces; the rule `flaws` says what each of them lets pass."""

    BOTH = "both"
    SHOW = "show"
    SOUND = "sound"
    HIDDEN = "hidden"


# What to ask of a part's faces instead, where less would do.
LOOSER = {Faces.BOTH: Faces.SHOW, Faces.SHOW: Faces.SOUND}


@dataclass(frozen=True, slots=True)
class Part:
    """One row of the parts list; sizes finished, mm. ``None`` allowance: the shop's.

    ``outline_mm``: the outline of a curved part, grain along x, bounds from (0, 0), as its file
    (``shape``) says; without it the part is laid as a rectangle.
    """

    name: str
    quantity: int
    length_mm: float
    width_mm: float
    thickness_mm: float
    faces: Faces
    species: str | None = None
    sapwood: str = "any"
    max_knot_mm: float | None = None
    priority: float = 1.0
    match: str | None = None
    spares: int = 0
    straight_grain: str | None = None
    shape: str | None = None
    length_min_mm: float | None = None
    length_max_mm: float | None = None
    width_min_mm: float | None = None
    width_max_mm: float | None = None
    equal: str | None = None
    length_allowance_mm: float | None = None
    width_allowance_mm: float | None = None
    staves: str = "1"
    filler: bool = False
    only_boards: tuple[str, ...] = ()
    not_boards: tuple[str, ...] = ()
    job: str | None = None
    note: str | None = None
    outline_mm: tuple[tuple[float, float], ...] | None = None


PartsList = tuple[Part, ...]


def show_faces(part: Part, first: int | None = None) -> Sequence[int | None]:
    """Return the faces that may show, the one liked best first; only None where none must."""
    if part.faces is not Faces.SHOW:
        return (None,)
    return (2, 1) if first == 2 else (1, 2)


def refuse_unaskable(parts: PartsList) -> None:
    """Refuse a list that asks for nothing, or whose rows cannot be told apart.

    Raises
    ------
    PlacementError
        The list is empty, or a name is used twice.
    """
    if not parts:
        raise PlacementError("the parts list has no rows", "add at least one part")
    names = [part.name for part in parts]
    doubled = sorted({name for name in names if names.count(name) > 1})
    if doubled:
        raise PlacementError(
            f"two parts are called {doubled[0]}", "give each row of the parts list its own name"
        )
