"""How to measure bow, cup and twist of a board: one small drawing each."""

_WOOD, _LINE, _MARK, _PAPER = "#D9B98A", "#22272C", "#1D5C96", "#FAF7F0"
_WIDTH, _HEIGHT = 300, 120

WORDS = {
    "bow": "Lay the board face 1 up. Stretch a string from end to end, or use a long straight "
    "edge: the largest gap between it and the face.",
    "cup": "Lay a straight edge across the board where it is worst: the largest gap under it.",
    "twist": "Set two straight sticks of one height on the ends and sight over them: how much "
    "higher a corner of the far stick stands.",
}


def bow_drawing() -> str:
    """Return a board seen from its edge, hollow on top, with a string from end to end."""
    return drawing(
        f'<path d="M20 48 Q150 104 280 48 L280 66 Q150 122 20 66 Z" fill="{_WOOD}" '
        f'stroke="{_LINE}"/>'
        f'<line x1="14" y1="47" x2="286" y2="47" stroke="{_MARK}" stroke-width="2.5"/>'
        + _gap(150, 48, 75)
        + label(150, 34, "string from end to end")
        + label(166, 65, "bow", "start")
    )


def cup_drawing() -> str:
    """Return a board seen from its end, hollow on top, under a straight edge."""
    return drawing(
        f'<path d="M50 50 Q150 92 250 50 L250 76 Q150 118 50 76 Z" fill="{_WOOD}" '
        f'stroke="{_LINE}"/>'
        f'<path d="M78 84 Q150 112 222 84 M100 80 Q150 99 200 80" fill="none" stroke="{_LINE}" '
        'stroke-opacity=".45"/>'
        f'<rect x="36" y="36" width="228" height="13" fill="{_PAPER}" stroke="{_MARK}" '
        'stroke-width="2.5"/>'
        + _gap(150, 50, 70)
        + label(150, 27, "straight edge across")
        + label(166, 65, "cup", "start")
    )


def twist_drawing() -> str:
    """Return two sticks across the ends of a twisted board, as one sights over them."""
    return drawing(
        f'<path d="M70 88 L230 88 L222 58 L86 50 Z" fill="{_WOOD}" stroke="{_LINE}"/>'
        f'<line x1="46" y1="84" x2="254" y2="84" stroke="{_LINE}" stroke-width="6"/>'
        f'<line x1="60" y1="46" x2="246" y2="58" stroke="{_MARK}" stroke-width="5"/>'
        f'<line x1="60" y1="58" x2="246" y2="58" stroke="{_MARK}" stroke-dasharray="5 5"/>'
        + _gap(60, 47, 58)
        + label(150, 28, "far stick")
        + label(150, 110, "near stick")
        + label(50, 56, "twist", "end")
    )


def drawing(inside: str) -> str:
    """Return a small picture on paper of one size with the others."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" '
        f'width="{_WIDTH}" height="{_HEIGHT}"><rect width="100%" height="100%" rx="3" '
        f'fill="{_PAPER}"/>{inside}</svg>'
    )


def _gap(x: int, top: int, foot: int) -> str:
    """Return an upright measuring line with a stop at both ends."""
    stops = "".join(f"M{x - 5} {y} h10 " for y in (top, foot))
    return f'<path d="M{x} {top} V{foot} {stops}" stroke="{_LINE}" stroke-width="2" fill="none"/>'


def label(x: int, y: int, words: str, anchor: str = "middle") -> str:
    """Return a word in a drawing; x and y in its px, y its base line."""
    return (
        f'<text x="{x}" y="{y}" font-family="sans-serif" font-size="13" fill="{_LINE}" '
        f'text-anchor="{anchor}">{words}</text>'
    )


DRAWINGS = {"bow": bow_drawing, "cup": cup_drawing, "twist": twist_drawing}
