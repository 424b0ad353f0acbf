"""Lines drawn on boards, some of them wrong: which mistakes are found, how often one is made up.

``python -m tests.bench.marks --seeds 300-339``: flat faces of the second renderer, a layout drawn
on each by a shaky hand in chalk or crayon. The face lies on its board as a scan would lay it, a
little off each way. Nothing may be tuned on the seeds that are reported.
"""

import argparse
from dataclasses import dataclass

import cv2
import numpy as np
from shapely.geometry import Polygon

from scanner.app.cutting.hold_marks import judge_picture
from scanner.board.lay_again import LaidAgain
from scanner.placement.layout import Placement
from scanner.vision.photos.picture import FacePicture
from tests.bench.figures import Bench, Figure, keep, mean_text, share_text
from tests.common import plain_board
from tests.render_two.flat import flat_view

INKS = {
    "white chalk": (228, 226, 220),
    "yellow chalk": (214, 186, 84),
    "blue crayon": (44, 66, 140),
    "red crayon": (160, 40, 34),
}
# The face is laid onto the board's own ends and edges; what is left is how well they were traced.
_END_OFF_MM, _EDGE_OFF_MM = 1.2, 0.7
_KERF_MM = 4.0


@dataclass
class Drawn:
    """A marked face and what is wrong with it."""

    picture: FacePicture
    outline: Polygon
    size_mm: tuple
    placements: tuple
    wrong: list  # (what, {(part, side), ...}) a mistake each
    laid: LaidAgain


def parts_on(rng, length, width):
    """Return parts in crosscut stretches of one to three strips, with kerf between."""
    found, x = [], float(rng.uniform(20, 90))
    while len(found) < 7:
        long = float(rng.uniform(220, 700))
        if x + long > length - 20:
            break
        strips = int(rng.integers(1, 3 if width < 170 else 4))
        y = float(rng.uniform(9, 16))
        wide = (width - y - 9 - _KERF_MM * (strips - 1)) / strips
        if wide < 38:
            strips, wide = 1, width - y - 12
        for _ in range(strips):
            mine = wide - float(rng.uniform(0, 4))
            found.append(Placement(f"p{len(found)}", 1, "B01", x, y, long, mine, show_face=1))
            y += wide + _KERF_MM
        x += long + float(rng.choice([_KERF_MM, rng.uniform(25, 120)]))
    return tuple(found)


def sides_of(place):
    x0, y0 = place.x_mm, place.y_mm
    x1, y1 = x0 + place.length_mm, y0 + place.width_mm
    part = f"{place.part} 1"
    return {
        (part, "A"): ((x0, y0), (x0, y1)),
        (part, "B"): ((x1, y0), (x1, y1)),
        (part, "upper"): ((x0, y0), (x1, y0)),
        (part, "lower"): ((x0, y1), (x1, y1)),
    }


def pen_lines(placements):
    """Return the lines a person draws: two sides a kerf apart are one line in the middle."""
    lines = []
    for place in placements:
        for key, (p, q) in sides_of(place).items():
            across = key[1] in "AB"
            at, low, high = (p[0], p[1], q[1]) if across else (p[1], p[0], q[0])
            for line in lines:
                if (
                    line["across"] == across
                    and abs(line["at"] - at) < _KERF_MM + 5
                    and min(high, line["high"]) - max(low, line["low"]) > -6
                ):
                    line["keys"].add(key)
                    line["ats"].append(at)
                    line["low"], line["high"] = min(low, line["low"]), max(high, line["high"])
                    break
            else:
                lines.append(
                    {"across": across, "at": at, "ats": [at], "low": low, "high": high,
                     "keys": {key}}
                )  # fmt: skip
    for line in lines:
        line["at"] = float(np.mean(line["ats"]))
    return lines


def shaky(rng, p, q):
    """Return the path (N, 2) of a hand that draws a line, mm."""
    count = max(2, int(np.hypot(*np.subtract(q, p)) / 8))
    t = np.linspace(0, 1, count)[:, None]
    path = np.asarray(p) + t * (np.asarray(q) - np.asarray(p))
    wander = rng.standard_normal((count, 2)).cumsum(axis=0)
    wander -= t * wander[-1]
    return path + wander * 1.2 / max(np.abs(wander).max(), 1e-6)


def stroke(rng, canvas, p, q, wide, mm):
    """Draw a shaky line into a cover map."""
    points = np.round(shaky(rng, p, q) / mm * 16).astype(np.int32)
    cv2.polylines(canvas, [points], False, 1.0, max(1, round(wide / mm)), cv2.LINE_AA, 4)


def mistakes_in(rng, placements, lines, size):
    """Draw some lines wrongly, in place; return what is wrong, and how all of it is turned."""
    wrong, mirror = [], ""
    way = rng.random()
    if way < 0.12 and len(placements) > 2:
        mirror = str(rng.choice(["x", "y"]))
    elif way < 0.75:
        for index in rng.choice(len(lines), int(rng.integers(1, 3)), replace=False):
            line = lines[index]
            if rng.random() < 0.35:
                line["at"] = None
                wrong.append(("missing", line["keys"]))
            else:
                line["at"] += float(rng.choice([-1, 1]) * rng.uniform(10, 40))
                wrong.append(("off", line["keys"]))
    if mirror and (keys := _displaced(placements, lines, mirror, size)):
        wrong.append(("turned", keys))
    return wrong, mirror


def drawn_ends(line, mirror, size):
    """Return both ends of a line as it is drawn, board mm."""
    ends = [(line["at"], line["low"]), (line["at"], line["high"])]
    if not line["across"]:
        ends = [(v, u) for u, v in ends]
    if mirror == "x":
        ends = [(size[0] - x, y) for x, y in ends]
    if mirror == "y":
        ends = [(x, size[1] - y) for x, y in ends]
    return [np.array(end) for end in ends]


def marked_face(seed):
    """Return a seed's face with its layout drawn on it, perhaps wrongly."""
    rng = np.random.default_rng((seed, 911))
    view = flat_view(seed, 1)
    ring = view.from_board(np.array(view.truth.outline["1"]))
    outline = Polygon(ring)
    low = np.array(outline.bounds[:2])
    length, width = (float(v) for v in np.array(outline.bounds[2:]) - low)
    placements = parts_on(rng, length, width)
    lines = pen_lines(placements)
    wrong, mirror = mistakes_in(rng, placements, lines, (length, width))
    cover = np.zeros(view.pixels.shape[:2], np.float32)
    for line in lines:
        if line["at"] is not None:
            p, q = (end + low for end in drawn_ends(line, mirror, (length, width)))
            stroke(rng, cover, p, q, float(rng.uniform(4, 8)), view.mm_per_px)
    skip = cv2.GaussianBlur(rng.standard_normal(cover.shape).astype(np.float32), (0, 0), 1.5)
    cover = cv2.GaussianBlur(cover, (0, 0), 1.0) * (skip / skip.std() > -0.7) * 0.8
    ink = np.array(INKS[str(rng.choice(list(INKS)))], np.float32)
    pixels = view.pixels * (1 - cover[..., None]) + ink * cover[..., None]
    picture = FacePicture(
        pixels=np.clip(pixels, 0, 255).astype(np.uint8),
        mm_per_px=view.mm_per_px,
        origin_mm=(0.0, 0.0),
        u_scale=0.001,
        u_point_mm=0.5,
        seen=np.ones(cover.shape, bool),
    )
    end_a, end_b = rng.normal(0, _END_OFF_MM, 2)
    stretch = 1 + (end_b - end_a) / length
    shift = -low * (stretch, 1.0) + (end_a, rng.normal(0, _EDGE_OFF_MM))
    laid = LaidAgain(1, (stretch, 0.0, 0.0, 1.0, float(shift[0]), float(shift[1])), True)
    return Drawn(picture, outline, (length, width), placements, wrong, laid)


def _displaced(placements, lines, mirror, size):
    """Return the sides that a turned drawing puts more than 6 mm off; many layouts look alike."""
    found = set()
    for place in placements:
        for key, (p, q) in sides_of(place).items():
            across = key[1] in "AB"
            at, low, high = (p[0], p[1], q[1]) if across else (p[1], p[0], q[0])
            turned_at = (mirror == "x") == across
            turned_along = not turned_at
            near = np.inf
            for line in lines:
                if line["across"] != across:
                    continue
                along = size[1] if across else size[0]
                there = (size[0] if across else size[1]) - line["at"] if turned_at else line["at"]
                a, b = line["low"], line["high"]
                a, b = (along - b, along - a) if turned_along else (a, b)
                if min(high, b) - max(low, a) > 0.5 * (high - low):
                    near = min(near, abs(there - at))
            if near > 6.0:
                found.add(key)
    return found


def board_of(face):
    """Return a plain board of the face's size."""
    length, width = face.size_mm
    return plain_board("B01", length, width)


def judged_mistakes(verdict, wrong):
    """Return of each mistake (what, whether it is told), and how many were made up."""
    told = {(one.line.part, one.line.side) for one in verdict.lines if not one.is_right}
    is_turned = verdict.pattern != "planned"
    hits = [(what, bool(keys & told) or (what == "turned" and is_turned)) for what, keys in wrong]
    allowed = set().union(*(keys for _, keys in wrong)) if wrong else set()
    turned = any(what == "turned" for what, _ in wrong)
    return hits, 0 if turned else len(told - allowed) + int(is_turned)


def mark_figures(judged):
    """Return what the judged faces come to, and print it by kind of mistake."""
    kinds = {}
    for hits, _ in judged:
        for what, hit in hits:
            kinds.setdefault(what, []).append(hit)
    for what, hits in sorted(kinds.items()):
        print(f"{what}: {sum(hits)} of {len(hits)}")
    flat = [hit for hits in kinds.values() for hit in hits]
    made_up = [float(extra) for _, extra in judged]
    return (
        Figure(
            "mistakes found",
            share_text(sum(flat), len(flat)),
            "95 %",
            sum(flat) >= 0.95 * len(flat),
        ),
        Figure("made up, a board", mean_text(made_up), "1", float(np.mean(made_up)) < 1),
    )


def main():
    """Judge every seed's marks and keep the figures."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seeds", default="300-339")
    first, last = (int(v) for v in asked.parse_args().seeds.split("-"))
    judged = []
    for seed in range(first, last + 1):
        face = marked_face(seed)
        verdict = judge_picture(
            board_of(face), face.placements, face.picture, face.outline, face.laid
        )
        judged.append(judged_mistakes(verdict, face.wrong))
        hits, extra = [hit for _, hit in judged[-1][0]], judged[-1][1]
        print(f"{seed}: {len(face.placements)} parts, {hits} {extra} made up", flush=True)
    figures = mark_figures(judged)
    for figure in figures:
        print(f"{figure.claim}: {figure.figure} (bar {figure.bar})")
    keep(
        Bench(
            "marks", "Marks held against the layout",
            f"second renderer, seeds {first}-{last}, flat faces, lines drawn in 2-D",
            f"python -m tests.bench.marks --seeds {first}-{last}", figures,
        )
    )  # fmt: skip


if __name__ == "__main__":
    main()
