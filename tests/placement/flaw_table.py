"""What each kind of flaw does to a part, as the design says; rule and judge are held to it."""

from scanner.board.flaw import FlawKind

# Kind, sound -> may lie under sound / on the back of a show part.
TABLE = [
    (FlawKind.KNOT, True, True),
    (FlawKind.KNOT, False, False),
    (FlawKind.KNOT, None, False),
    (FlawKind.CHECK, None, False),
    (FlawKind.SPLIT, None, False),
    (FlawKind.SHAKE, None, False),
    (FlawKind.WANE, None, False),
    (FlawKind.HOLE, None, False),
    (FlawKind.BARK_POCKET, None, False),
    (FlawKind.ROT, None, False),
    (FlawKind.PITH, None, False),
    (FlawKind.STAIN, None, True),
    (FlawKind.PITCH, None, True),
    (FlawKind.MARKED, None, False),
]
