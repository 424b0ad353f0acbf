"""`FlawKind`, `Flaw` (kind, outlines by face, state, score, reach)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from shapely.geometry import Polygon


class FlawKind(StrEnum):
    """The kinds of flaw, by the trade's names (NHLA glossary; Wood Handbook, glossary)."""

    KNOT = "knot"
    CHECK = "check"
    SPLIT = "split"
    SHAKE = "shake"
    WANE = "wane"
    HOLE = "hole"
    BARK_POCKET = "bark_pocket"
    ROT = "rot"
    PITH = "pith"
    STAIN = "stain"
    PITCH = "pitch"
    WILD_GRAIN = "wild_grain"
    MARKED = "marked"

    @property
    def words(self) -> str:
        """The kind as it is written in a sentence."""
        return self.value.replace("_", " ")


# The kinds of flaw where the wood has come apart along the grain.
CRACKS = (FlawKind.CHECK, FlawKind.SPLIT, FlawKind.SHAKE)


class FlawState(StrEnum):
    """What the user has said of a flaw."""

    POSSIBLE = "possible"
    CONFIRMED = "confirmed"
    STRUCK = "struck"
    ADDED = "added"


def _no_outlines() -> Mapping[int, Polygon]:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Flaw:
    """One flaw of a board.

    Attributes
    ----------
    id
        Name on the board, such as ``F1``.
    outlines
        Face number (1, 2) to its outline there, board frame, mm.
    sound
        Of a knot: tight and whole (True), not (False), not known (None, counts as not sound).
    is_through
        The flaw comes through from face to face.
    reach_mm
        Of a crack that starts at an end: how far it runs along the board, the longer of both faces.
    score
        How sure the finder is, 0 to 1; None where a person drew it.
    u_mm
        U of the outline, mm.
    """

    id: str
    kind: FlawKind
    outlines: Mapping[int, Polygon] = field(default_factory=_no_outlines)
    sound: bool | None = None
    is_through: bool = False
    reach_mm: float | None = None
    state: FlawState = FlawState.POSSIBLE
    score: float | None = None
    reason: str | None = None
    u_mm: float = 1.0

    @property
    def counts(self) -> bool:
        """Whether the flaw is to be reckoned with: everything but what the user struck."""
        return self.state is not FlawState.STRUCK


def doubtful_first(flaws: tuple[Flaw, ...]) -> tuple[Flaw, ...]:
    """Return the flaws in the order in which a person should look at them.

    Those nobody looked at come first, and of these the ones whose score is nearest to an even bet:
    a look tells most there. Scores are calibrated, so 0.5 is as doubtful as can be.
    """

    def rank(flaw: Flaw) -> tuple[bool, float, str]:
        score = 1.0 if flaw.score is None else flaw.score
        return flaw.state is not FlawState.POSSIBLE, abs(score - 0.5), flaw.id

    return tuple(sorted(flaws, key=rank))
