"""What the user asked for on the layout itself, beside the parts list."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

# The fact that holds them.
HAND = "hand"


@dataclass(frozen=True, slots=True)
class HandRules:
    """Boards that parts are kept off, by part and board; spares reserved, by part."""

    forbidden: tuple[tuple[str, str], ...] = ()
    spares: Mapping[str, int] = field(default_factory=dict)

    def forbidding(self, part: str, board: str) -> "HandRules":
        """Return the rules with a part kept off a board."""
        pair = (part, board)
        others = tuple(one for one in self.forbidden if one != pair)
        return replace(self, forbidden=(*others, pair))

    def allowing(self, part: str, board: str) -> "HandRules":
        """Return the rules with a part let onto a board again."""
        return replace(self, forbidden=tuple(one for one in self.forbidden if one != (part, board)))

    def reserving(self, part: str, more: int) -> "HandRules":
        """Return the rules with so many more spares of a part, never fewer than none."""
        count = max(0, self.spares.get(part, 0) + more)
        spares = {name: held for name, held in self.spares.items() if name != part}
        return replace(self, spares=spares | ({part: count} if count else {}))
