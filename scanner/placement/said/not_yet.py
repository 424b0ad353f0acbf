"""Which columns of a parts list are not honoured yet; the app warns of them."""

from scanner.placement.names_in_words import joined
from scanner.placement.parts import PartsList
from scanner.placement.wanted.staves import is_glued


def not_yet_honoured(parts: PartsList) -> tuple[str, ...]:
    """Return one sentence for each column that some part uses and the solver does not honour."""
    uses = {
        "straight_grain (follow, of a matched part or a panel glued up from staves)": [
            p.name for p in parts if p.straight_grain == "follow" and (p.match or is_glued(p))
        ],
        "shape (its file is not at hand here: laid as a rectangle)": [
            p.name for p in parts if p.shape and p.outline_mm is None
        ],
        "straight_grain (follow, of a part with a shape)": [
            p.name for p in parts if p.straight_grain == "follow" and p.shape
        ],
        "match (a panel glued up from staves: each comes from one board)": [
            p.name for p in parts if p.match and is_glued(p)
        ],
        "spares (of a panel glued up from staves)": [
            p.name for p in parts if p.spares and is_glued(p)
        ],
        "staves (of a filler, or of a part with a shape)": [
            p.name for p in parts if (p.filler or p.outline_mm) and p.staves not in ("", "1")
        ],
    }
    said = [
        f"The column {column} is not honoured yet and was left out for {joined(names, 4)}."
        for column, names in uses.items()
        if names
    ]
    return tuple(said)
