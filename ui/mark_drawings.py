"""Marks that survive the planer, drawn: an end with its tick, a triangle across a set."""

from ui.warp_drawings import drawing, label

_WOOD, _LINE, _MARK = "#D9B98A", "#22272C", "#1D5C96"


def end_drawing() -> str:
    """Return an end of a piece: its name on the end grain, a tick at the face that shows."""
    rings = "".join(f"M{x} 42 Q{x - 12} 66 {x} 90 " for x in (76, 100, 204, 228))
    return drawing(
        f'<rect x="50" y="42" width="200" height="48" fill="{_WOOD}" stroke="{_LINE}"/>'
        f'<path d="{rings}" fill="none" stroke="{_LINE}" stroke-opacity=".4"/>'
        f'<path d="M222 34 l8 7 l16 -24" fill="none" stroke="{_MARK}" stroke-width="4"/>'
        + label(152, 71, "rail 1")
        + label(50, 30, "the face that shows", "start")
        + label(150, 110, "an end, seen square on")
    )


def set_drawing() -> str:
    """Return three pieces laid together with one triangle across, their ends numbered."""
    pieces = "".join(
        f'<rect x="{60 + 60 * n}" y="10" width="60" height="62" fill="{_WOOD}" stroke="{_LINE}"/>'
        f'<circle cx="{90 + 60 * n}" cy="86" r="10" fill="none" stroke="{_MARK}" '
        f'stroke-width="2"/>{label(90 + 60 * n, 91, str(n + 1))}'
        for n in range(3)
    )
    return drawing(
        f'{pieces}<path d="M74 64 H226 L150 18 Z" fill="none" stroke="{_MARK}" stroke-width="3"/>'
        + label(150, 114, "numbers on the ends")
    )


MARKS = {
    "A name on the end grain and a tick at the face that shows": end_drawing,
    "One triangle across pieces that belong together, their ends numbered": set_drawing,
}
