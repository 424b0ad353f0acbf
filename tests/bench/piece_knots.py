"""Pieces laid so that a knot of theirs meets a knot of another board; how often that is believed.

``python -m tests.bench.piece_knots --seeds 8633-8665``: the only planned piece lies on the other
board where the two dark spots meet, so nothing but the grain round the knot can tell them apart.
"""

import argparse
from collections.abc import Iterator

import cv2
import numpy as np

from scanner.vision.second_look.find_again import (
    FacePrint,
    FoundAgain,
    PlannedPiece,
    find_again,
    is_sure,
)
from scanner.vision.second_look.grain_print import GrainPrint, grain_print
from tests.bench.figures import share_text
from tests.bench.piece_cases import MM_PER_PX, Case, cases_of, prints_of, spec_of

BOARDS = 5
SPOTS = 3
LEAST_DARK = 0.9
SPOT_MM = 40
# The place must be on the board, and the knots meet within what trimming lets a piece shift.
END_MM = 5.0
ACROSS_MM = 6.0


def dark_spots(grain: GrainPrint) -> list[tuple[int, int]]:
    """Return where a print shows dark spots: knots mostly; mm from its first pixel."""
    left = cv2.GaussianBlur(np.maximum(-grain.along, 0), (0, 0), 6)
    found = []
    for _ in range(SPOTS):
        _, most, _, (x, y) = cv2.minMaxLoc(left)
        if most < LEAST_DARK:
            break
        found.append((x, y))
        left[max(0, y - SPOT_MM) : y + SPOT_MM, max(0, x - SPOT_MM) : x + SPOT_MM] = 0
    return found


def meetings(case: Case, piece: GrainPrint, face: FacePrint) -> Iterator[PlannedPiece]:
    """Yield the planned pieces on a face that let a spot of the piece meet one of the face."""
    whole = case.planned.x1_mm - case.planned.x0_mm
    length = spec_of(int(face.board.id[1:])).length_mm
    laid = piece if face.face == 1 else piece.mirrored()
    low, high = face.board.wood(face.face).bounds[1::2]
    room = max(high - low - case.cut.width, 0.0)
    for way in (laid, laid.turned()):
        for piece_x, piece_y in dark_spots(way):
            for x, y in dark_spots(face.grain):
                x0 = x + face.origin_mm[0] - piece_x - (whole - case.cut.length) / 2
                top = y + face.origin_mm[1] - piece_y
                reach = room / 2 + ACROSS_MM
                fits = abs(top - (low + high - case.cut.width) / 2) <= reach
                if fits and x0 >= END_MM and x0 + whole <= length - END_MM:
                    yield PlannedPiece(face.board.id, "slot", x0, x0 + whole)


def run(seeds: list[int]) -> list[FoundAgain]:
    """Return what is found where a piece of each seed meets the next boards' knots."""
    out = []
    for at, seed in enumerate(seeds):
        for case in cases_of(seed, 2):
            piece = grain_print(case.pixels, np.ones(case.pixels.shape[:2], bool), MM_PER_PX)
            size = (case.cut.length, case.cut.width)
            others = [seeds[(at + n) % len(seeds)] for n in range(1, BOARDS + 1)]
            for face in (one for other in others for one in prints_of(other)):
                for slot in meetings(case, piece, face):
                    out.append(find_again(piece, size, [face], [slot]))
        print(f"{seed}: {len(out)} so far", flush=True)
    return [found for found in out if found.places]


def main() -> None:
    """Run the bench and print how many are believed, with and without the grain elsewhere."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="8600-8632", help="first-last")
    cv2.setNumThreads(1)
    first, last = (int(v) for v in parser.parse_args().seeds.split("-"))
    found = run(list(range(first, last + 1)))
    alone = sum(is_sure(one.gap, one.places[0].score, 1.0, knows_cuts=True) for one in found)
    sure = sum(one.is_sure for one in found)
    chance = np.percentile([one.elsewhere for one in found], (50, 90, 99))
    print(f"believed for the knot alone: {share_text(alone, len(found))}")
    print(f"believed: {share_text(sure, len(found))}")
    print("fits elsewhere, half, 90 and 99 % less than:", *(f"{one:.3f}" for one in chance))


if __name__ == "__main__":
    main()
