"""Labels in a row that must not touch: each as near to its place as the others allow."""

from collections.abc import Sequence


def spread(
    wanted: Sequence[float], widths: Sequence[float], low: float, high: float, gap: float = 3.0
) -> list[float]:
    """Return label centres, in the order of ``wanted`` (rising), that do not overlap.

    Labels that press on each other move apart as one group, which keeps each group centred on the
    places it belongs to. Where they do not fit between ``low`` and ``high`` at all they are set at
    even steps.

    Parameters
    ----------
    wanted
        The centre each label would like, rising.
    widths
        Its width.
    low, high
        The row's ends.
    """
    if not wanted:
        return []
    total = sum(widths) + gap * (len(widths) - 1)
    if total > high - low:
        step = (high - low) / len(wanted)
        return [low + step * (k + 0.5) for k in range(len(wanted))]
    # Groups of (first label, left end of the group, its width).
    groups: list[tuple[list[int], float, float]] = []
    for k, centre in enumerate(wanted):
        members, left, wide = [k], centre - widths[k] / 2, widths[k]
        left = min(max(left, low), high - wide)
        while groups and groups[-1][1] + groups[-1][2] + gap > left:
            before, _, before_wide = groups.pop()
            members = before + members
            wide = before_wide + gap + wide
            left = _centred(members, wanted, widths, gap)
            left = min(max(left, low), high - wide)
        groups.append((members, left, wide))
    centres = [0.0] * len(wanted)
    for members, left, _ in groups:
        at = left
        for k in members:
            centres[k] = at + widths[k] / 2
            at += widths[k] + gap
    return centres


def _centred(
    members: Sequence[int], wanted: Sequence[float], widths: Sequence[float], gap: float
) -> float:
    """Return the left end of a group that puts its labels nearest to their places on average."""
    offsets, at = [], 0.0
    for k in members:
        offsets.append(at + widths[k] / 2)
        at += widths[k] + gap
    pulls = [wanted[k] - offset for k, offset in zip(members, offsets, strict=True)]
    return sum(pulls) / len(pulls)
