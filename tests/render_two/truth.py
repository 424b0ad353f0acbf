"""What is true of a board: outlines and flaws in its own millimetres."""

from dataclasses import dataclass, field

Ring = list[tuple[float, float]]


@dataclass(frozen=True)
class TrueFlaw:
    """One flaw; ``outlines`` holds rings by face ("1", "2"), board mm, face 2 seen through.

    ``look``: of a knot sound, loose, hollow, cracked; of a crack end or face.
    ``opening`` is the widest a crack gapes, ``usual`` its median opening, mm.
    """

    kind: str
    look: str
    outlines: dict[str, list[Ring]]
    sound: bool | None = None
    through: bool = False
    opening: float | None = None
    usual: float | None = None
    reach: float | None = None


@dataclass(frozen=True)
class BoardTruth:
    """Size, outlines of the flat faces and flaws of a board."""

    species: str
    length: float
    width: float
    thickness: float
    outline: dict[str, Ring]
    flaws: tuple[TrueFlaw, ...] = field(default=())
