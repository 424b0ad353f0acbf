"""What ties boards, parts and jobs together, in words: names that fit nothing, what a job got."""

from collections.abc import Sequence

from scanner.board.board import Board
from scanner.placement.layout import Layout
from scanner.placement.parts import PartsList
from scanner.placement.shop import Shop
from scanner.placement.wanted.staves import copies_placed


def loose_ties(boards: Sequence[Board], parts: PartsList) -> tuple[str, ...]:
    """Return one sentence for each name that ties to nothing: most likely it is mistyped."""
    ids, names = {board.id for board in boards}, {part.name for part in parts}
    said = []
    for part in parts:
        for column, tied in (("only_boards", part.only_boards), ("not_boards", part.not_boards)):
            unknown = [id for id in tied if id not in ids]
            if unknown:
                said.append(
                    f"{part.name}: {column} names {', '.join(unknown)}, not among these boards."
                )
    for board in boards:
        unknown = [name for name in board.only_parts or () if name not in names]
        if unknown:
            said.append(
                f"{board.id}: only_parts names {', '.join(unknown)}, not in this parts list."
            )
    return tuple(said)


def jobs_said(parts: PartsList, layout: Layout, shop: Shop) -> tuple[str, ...]:
    """Return one sentence for each job where there are several: how much of it is placed."""
    have = copies_placed((p for p in layout.placements if p.state != "spoiled"), parts, shop)
    asked: dict[str, list[int]] = {}
    for part in parts:
        if part.job and not part.filler:
            count = asked.setdefault(part.job, [0, 0])
            count[0] += min(have[part.name], part.quantity)
            count[1] += part.quantity
    if len(asked) < 2:
        return ()
    return tuple(f"Job {job}: {got} of {of} parts placed." for job, (got, of) in asked.items())
