"""What a person's nods teach of a lot: by kind, how much likelier its candidates are than scored.

Scores are calibrated over many boards; one lot's wood may fool the finder more, or less. The log
odds of every candidate of a kind are moved by one amount for the lot: the most likely one given
which candidates were kept and which were struck, held near nothing by a normal prior (logistic
regression with the score as offset, Laplace's mode; see C. M. Bishop 2006, "Pattern Recognition and
Machine Learning", section 4.5, from memory).

Nothing is hidden or added by it: it says which candidates to look at first, and in what words.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from scanner.board.flaw import FlawKind, FlawState

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from scanner.board.board import Board
    from scanner.board.flaw import Flaw

# Before any nod: lots differ by a factor of e in the odds of a kind, 95 % by less than 7. Chosen,
# not fitted: half and one and a half times as much do alike (`tests.bench.flaws_nods`).
_SPREAD = 1.0
# No nod can speak of more than odds of 99 to 1.
_MOST_SURE = 0.99
_STEPS = 20


def _none() -> Mapping[FlawKind, float]:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Taught:
    """By kind, what is added to the log odds of a score in this lot."""

    shifts: Mapping[FlawKind, float] = field(default_factory=_none)

    def score_of(self, flaw: Flaw) -> float | None:
        """Return how sure a candidate is in this lot, 0 to 1; None where a person drew it."""
        shift = self.shifts.get(flaw.kind)
        if flaw.score is None or shift is None:
            return flaw.score
        return 1.0 / (1.0 + math.exp(-(_log_odds(flaw.score) + shift)))


UNTAUGHT = Taught()


def taught_by(boards: Iterable[Board]) -> Taught:
    """Return what the nods at the candidates of boards teach.

    Only faces that are looked over count. Left open there is as good as kept, once the person said
    anything of that board: many strike what is none and leave the rest. Drawn flaws teach nothing.
    """
    said: dict[FlawKind, list[tuple[float, float]]] = {}
    for board in boards:
        seen = {number for number, face in board.faces.items() if face.looked_over}
        candidates = [f for f in board.flaws if f.score is not None and f.outlines.keys() <= seen]
        if all(flaw.state is FlawState.POSSIBLE for flaw in candidates):
            continue
        for flaw in candidates:
            said.setdefault(flaw.kind, []).append(
                (_log_odds(flaw.score or 0.0), float(flaw.counts))
            )
    return Taught(MappingProxyType({kind: _shift(pairs) for kind, pairs in said.items()}))


def _shift(pairs: list[tuple[float, float]], spread: float = _SPREAD) -> float:
    """Return the most likely shift of log odds: Newton's steps on a concave function of one."""
    odds, kept = np.array(pairs, dtype=np.float64).T
    shift = 0.0
    for _ in range(_STEPS):
        sure = 1.0 / (1.0 + np.exp(-(odds + shift)))
        slope = float((kept - sure).sum()) - shift / spread**2
        step = slope / (float((sure * (1.0 - sure)).sum()) + spread**-2)
        shift += max(min(step, 1.0), -1.0)
    return shift


def _log_odds(score: float) -> float:
    held = min(max(score, 1.0 - _MOST_SURE), _MOST_SURE)
    return math.log(held / (1.0 - held))
