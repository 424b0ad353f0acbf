"""Marks that survive the planer, in words and as a small drawing on the milling sheet."""

from scanner.lot.lasting_marks import LastingMarks
from scanner.sheets.drawing import INK, Point, Sketch, box_points

HOW = (
    "Chalk on a face goes with the first shavings. Write each name on both ends, on the end grain, "
    "with a tick at the side of the face that shows. A trimmed end is marked anew before its "
    "offcut is let go.",
    "Over pieces that belong together draw one triangle across their faces and number their ends "
    "in the same order: after each pass the numbers say how to draw it anew.",
)
DRAWING_HEIGHT = 62.0


def face_words(marks: LastingMarks) -> tuple[str, ...]:
    """Return, face by face, which ends get a tick there."""
    said = []
    for face in (1, 2):
        named = [f"{end.title} ({end.board})" for end in marks.ends if end.show_face == face]
        if named:
            said.append(f"Tick at face {face}: {', '.join(named)}.")
    sawn = [f"{end.title} ({end.board})" for end in marks.ends if end.is_sawn]
    if sawn:
        said.append(f"Tick at the face that the resaw opens: {', '.join(sawn)}.")
    free = [end.title for end in marks.ends if end.show_face is None and not end.is_sawn]
    if free:
        said.append(f"Either face may show, tick the one you choose: {', '.join(free)}.")
    return tuple(said)


def set_words(marks: LastingMarks) -> tuple[str, ...]:
    """Return which pieces one triangle goes across, in order."""
    return tuple(
        f"One triangle across {one.title}: "
        + ", ".join(f"{number} = {piece}" for number, piece in enumerate(one.pieces, 1))
        + "."
        for one in marks.sets
    )


def draw_how(sketch: Sketch, left: float, top: float) -> None:
    """Draw an end with its name and tick, and beside it a triangle across three pieces."""
    wide, tall = 110.0, 26.0
    sketch.ring(box_points(left, top + 14.0, wide, tall), 1.1)
    # Year rings: this is end grain.
    for shift in (16.0, 34.0, 76.0, 94.0):
        sketch.line(_ring(left + shift, top + 15.0, tall - 2.0), 0.5)
    sketch.plate(left + wide / 2, top + 31.0, "rail 1", 10.0, bold=True, anchor="middle")
    tick = [(left + wide - 14, top + 11), (left + wide - 10, top + 15), (left + wide - 2, top + 3)]
    sketch.line(tick, 1.6, INK)
    sketch.text(left, top + 9.0, "face that shows", 8.0)
    sketch.text(left, top + 52.0, "an end, seen square on", 8.0)
    across, piece = left + 190.0, 40.0
    for number in range(3):
        x = across + number * piece
        sketch.ring(box_points(x, top + 2.0, piece, 40.0), 1.1)
        sketch.disc(x + piece / 2, top + 52.0, str(number + 1), 8.0, solid=False)
    sketch.ring(
        [(across + 8, top + 36), (across + 3 * piece - 8, top + 36), (across + 60, top + 7)], 1.4
    )
    sketch.text(across + 3 * piece + 10, top + 24.0, "one triangle across a set;", 8.0)
    sketch.text(across + 3 * piece + 10, top + 55.0, "its numbers on the ends", 8.0)


def _ring(x: float, top: float, tall: float) -> list[Point]:
    """Return a bent stroke from top to bottom."""
    return [(x + 5.0 * (2 * k / 6 - 1) ** 2, top + tall * k / 6) for k in range(7)]
