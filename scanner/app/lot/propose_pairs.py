"""The errand "which photos are one board's": a first look at each photo, and pairs proposed.

Board cards settle it where they lie in the picture; then the order in which the photos were taken,
unless the outlines speak against it; then outlines that lie over each other. The person has the
last word: a proposal says what it goes by.
"""

from __future__ import annotations

import secrets
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from scanner.app.lot.add_boards import Order, pairs
from scanner.board.measured import Measured
from scanner.errors import ScannerError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.board.reading import FaceReading as FaceReading  # the page keeps outlines
    from scanner.vision.photos.picture import Photo
    from scanner.vision.setup import Setup

# Nobody has typed the board's thickness yet: 4/4, give or take a quarter.
_THICKNESS = Measured(27.0, 6.0)

Why = Literal["cards", "order", "order_and_outlines", "outlines", "against_outlines", "alone"]
WORDS: dict[Why, str] = {
    "cards": "by their board cards",
    "order": "in the order they were taken",
    "order_and_outlines": "in the order they were taken; their outlines agree",
    "outlines": "by their outlines",
    "against_outlines": (
        "in the order they were taken, though their outlines do not agree: look whether both show "
        "one board"
    ),
    "alone": "face 2 is missing",
}


@dataclass(frozen=True, slots=True)
class PhotoLook:
    """What a first look at a photo tells.

    Attributes
    ----------
    card
        Board and face as its board card says, None without one.
    rule_px
        The rule's corners, (x, y) in the upright photo's own px; () where none was found.
    verdict
        Whether the photo will do, in a sentence.
    will_do
        Whether lengths can be taken from it.
    advice
        What would make it better, most important first.
    is_rough
        Whether its lengths are good for rough sizes only.
    verdict_inch
        The verdict for a person who thinks in inches, where it is another.
    """

    card: tuple[int, int] | None
    rule_px: tuple[tuple[float, float], ...]
    verdict: str
    will_do: bool
    advice: tuple[str, ...]
    is_rough: bool = False
    verdict_inch: str = ""

    def verdict_in(self, units: str) -> str:
        """Return the verdict for a person who thinks in ``mm`` or ``inch``."""
        return (units == "inch" and self.verdict_inch) or self.verdict


@dataclass(frozen=True, slots=True)
class ProposedPair:
    """Photos of one board by their places in the list: face 1, face 2 (None: missing), and why.

    ``more_first`` and ``more_second`` are further photos of these faces.
    """

    first: int
    second: int | None
    why: Why
    more_first: tuple[int, ...] = ()
    more_second: tuple[int, ...] = ()

    @property
    def is_sure(self) -> bool:
        """Whether nothing speaks against it."""
        return self.why != "against_outlines"


def look_at_photo(content: bytes, name: str, rule: str = "", units: str = "mm") -> PhotoLook:
    """Return what a first look tells; a photo that cannot be read is an answer too.

    Parameters
    ----------
    rule
        Length of a plain rule as typed; "" where the coded strip lies beside the board.
    """
    try:
        return _look(_read(content, name), _setup(rule, units))
    except ScannerError as problem:
        return PhotoLook(None, (), str(problem), False, ())


def first_outline(
    content: bytes, name: str, rule: str = "", units: str = "mm"
) -> FaceReading | None:
    """Return the outline of the face on a photo, None where none was found."""
    from scanner.vision.scan import first_outline as outline_of

    try:
        return outline_of((_read(content, name),), _setup(rule, units))
    except ScannerError:
        return None


def propose_pairs(
    cards: Sequence[tuple[int, int] | None],
    order: Order,
    outlines: Sequence[FaceReading | None] = (),
) -> tuple[ProposedPair, ...]:
    """Return which photos are one board's, in the order of their first photos.

    Parameters
    ----------
    cards
        Of each photo, in the order taken.
    order
        How both faces follow each other; see ``add_boards.pairs``.
    outlines
        Of each photo where it is known, else None; () while none was looked for.
    """
    leaders = _leaders(cards, order)
    firsts = sorted(set(leaders))
    # Of several photos of a face one may show no card.
    known = [
        next((cards[one] for one in _led(leaders, first) if cards[one]), None) for first in firsts
    ]
    seen = [outlines[first] for first in firsts] if outlines else []
    return tuple(
        ProposedPair(
            firsts[pair.first],
            None if pair.second is None else firsts[pair.second],
            pair.why,
            _led(leaders, firsts[pair.first])[1:],
            () if pair.second is None else _led(leaders, firsts[pair.second])[1:],
        )
        for pair in _pairs_of_faces(known, order, seen)
    )


def _leaders(cards: Sequence[tuple[int, int] | None], order: Order) -> list[int]:
    """Return, for each photo, the first photo of the same face as cards or the order tell."""
    leaders = list(range(len(cards)))
    if order == "twice":
        for place in range(1, len(cards), 2):
            both = {card for card in cards[place - 1 : place + 1] if card}
            leaders[place] = place if len(both) > 1 else place - 1
    first_with: dict[tuple[int, int], int] = {}
    for place, card in enumerate(cards):
        if card is not None:
            leader = first_with.setdefault(card, leaders[place])
            # Whoever follows this photo follows its leader too.
            leaders = [leader if one in (place, leaders[place]) else one for one in leaders]
    return leaders


def _led(leaders: Sequence[int], first: int) -> tuple[int, ...]:
    return tuple(place for place, leader in enumerate(leaders) if leader == first)


def _pairs_of_faces(
    cards: Sequence[tuple[int, int] | None],
    order: Order,
    outlines: Sequence[FaceReading | None],
) -> tuple[ProposedPair, ...]:
    """Pair photos of which each shows another face."""
    found = _by_cards(cards)
    taken = {place for pair in found for place in (pair.first, pair.second)}
    rest = [place for place in range(len(cards)) if place not in taken]
    known = dict(enumerate(outlines))
    doubted: list[tuple[int, ...]] = []
    for both in pairs(rest, order):
        if len(both) == 1:
            doubted.append(both)
            continue
        first, second = both
        if known.get(first) is None or known.get(second) is None:
            found.append(ProposedPair(first, second, "order"))
        elif _lie_over(known[first], known[second]):
            found.append(ProposedPair(first, second, "order_and_outlines"))
        else:
            doubted.append(both)
    found += _by_outlines(doubted, known)
    faced = (_faced(pair, cards) for pair in found)
    return tuple(sorted(faced, key=_earliest))


def _earliest(pair: ProposedPair) -> int:
    return pair.first if pair.second is None else min(pair.first, pair.second)


def _by_cards(cards: Sequence[tuple[int, int] | None]) -> list[ProposedPair]:
    places: dict[tuple[int, int], int] = {}
    for place, card in enumerate(cards):
        if card is not None:
            places.setdefault(card, place)
    return [
        ProposedPair(place, places[board, 2], "cards")
        for (board, face), place in places.items()
        if face == 1 and (board, 2) in places
    ]


def _by_outlines(
    doubted: Sequence[tuple[int, ...]], known: dict[int, FaceReading | None]
) -> list[ProposedPair]:
    """Pair by outline what the order does not pair; what is left keeps the order, and says so."""
    # Only now: laying outlines over each other loads much, and the page asks for cards first.
    from scanner.board.pairing import pairs_by_outline

    loose = [place for both in doubted for place in both]
    seen = [(place, known.get(place)) for place in loose]
    readable = [(place, reading) for place, reading in seen if reading is not None]
    matched = pairs_by_outline([reading for _, reading in readable], _THICKNESS.value_mm)
    found = [ProposedPair(readable[i][0], readable[j][0], "outlines") for i, j in matched]
    paired = {place for pair in found for place in (pair.first, pair.second)}
    left = [place for place in loose if place not in paired]
    for both in pairs(left, "in_turn"):
        if len(both) == 1:
            found.append(ProposedPair(both[0], None, "alone"))
        else:
            found.append(ProposedPair(both[0], both[1], "against_outlines"))
    return found


def _faced(pair: ProposedPair, cards: Sequence[tuple[int, int] | None]) -> ProposedPair:
    """Return the pair with its faces as the one card that lies there says."""
    if pair.second is None:
        return pair
    first, second = cards[pair.first], cards[pair.second]
    if (first and first[1] == 2) or (second and second[1] == 1):
        return ProposedPair(pair.second, pair.first, pair.why)
    return pair


def _lie_over(first: FaceReading | None, second: FaceReading | None) -> bool:
    from scanner.board.pairing import lies_over

    if first is None or second is None:
        return False
    return lies_over(first, second, _THICKNESS.value_mm) is not None


def _read(content: bytes, name: str) -> Photo:
    from scanner.vision.photos.photo import read_photo

    with tempfile.TemporaryDirectory(prefix="bothfaces-") as folder:
        # The user's name for it never names a file; what is said of it is put right afterwards.
        path = Path(folder) / secrets.token_hex(8)
        path.write_bytes(content)
        try:
            photo = read_photo(path)
        except ScannerError as problem:
            what = problem.what.replace(path.name, name)
            raise type(problem)(what, problem.mend.replace(path.name, name)) from problem
    doubts = tuple(doubt.replace(path.name, name) for doubt in photo.doubts)
    return replace(photo, name=name, doubts=doubts)


def _look(photo: Photo, setup: Setup) -> PhotoLook:
    from scanner.vision.rule.cards import find_cards
    from scanner.vision.trial import try_out

    cards = find_cards(photo)
    trial = try_out(photo, setup)
    return PhotoLook(
        card=(cards[0].board, cards[0].face) if len(cards) == 1 else None,
        rule_px=trial.rule.corners if trial.rule else (),
        verdict=trial.verdict,
        will_do=trial.will_do,
        advice=trial.advice,
        is_rough=trial.is_rough,
        verdict_inch=trial.verdict_in("inch"),
    )


def _setup(rule: str, units: str) -> Setup:
    from scanner.files.typed import read_rule
    from scanner.vision.setup import Setup

    size = read_rule(rule, "length of the rule", units) if rule.strip() else None
    return Setup(thickness=_THICKNESS, rule=size)
