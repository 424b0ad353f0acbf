"""The errand "place the parts": boards and a parts list in, a layout and its sheets out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Literal

from scanner.app.many import cores_worth, work_through
from scanner.app.placing.follow_grain import grain_said
from scanner.app.placing.kept_sizes import as_listed
from scanner.app.placing.spoiled_wood import with_spoiled
from scanner.errors import PlacementError
from scanner.files.layout_file import layout_json
from scanner.files.picture_file import open_picture
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.money import Money, money_of
from scanner.placement.copy_names import names_of
from scanner.placement.curves.shapes import shapes_said
from scanner.placement.giving.sizes import parts_as_made, sizes_said
from scanner.placement.laid.kept import kept_placements
from scanner.placement.said.not_yet import not_yet_honoured
from scanner.placement.said.reasons_sets import bookmatches_said, divided_sets
from scanner.placement.solve import solve
from scanner.placement.validator.judge import validate_layout
from scanner.placement.wanted.machines import machines_said, snipe_said
from scanner.placement.wanted.staves import staves_said
from scanner.placement.wanted.ties import jobs_said, loose_ties
from scanner.sheets.board_map import board_maps, draw_sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from PIL import Image

    from scanner.board.board import Board
    from scanner.placement.layout import Layout, Placement
    from scanner.placement.parts import PartsList
    from scanner.placement.shop import Shop
    from scanner.placement.stop import Stop
    from scanner.placement.validator.objection import Objection
    from scanner.sheets.board_map import SheetJob

    Progress = Callable[[str, float], None]

# A process is ready to draw after about as long as it takes for so many sheets.
_SHEETS_A_CORE = 6
# Each drawing process takes 145 MB: more would pass 2 GB with a lot of 200 boards to win seconds.
_MOST_PROCESSES = 8


@dataclass(frozen=True, slots=True)
class PlanResult:
    """A validated layout and what the user should know."""

    layout: Layout
    advice: tuple[str, ...]
    money: Money | None = None


def plan_cuts(
    boards: tuple[Board, ...],
    parts: PartsList,
    shop: Shop,
    stop: Stop,
    seed: int = 1,
    keep: Layout | None = None,
    on_better: Callable[[Layout], None] | None = None,
    progress: Progress = lambda step, share: None,
) -> PlanResult:
    """Return the best layout found, judged by the independent validator.

    Raises
    ------
    PlacementError
        No boards, boards of one name, parts that cannot be asked for, or a former layout that
        keeps what list, boards and shop no longer allow.
    """
    if not boards:
        raise PlacementError("there is no board to place parts on", "give at least one board.json")
    names = [board.id for board in boards]
    doubled = sorted({name for name in names if names.count(name) > 1})
    if doubled:
        raise PlacementError(f"two boards are called {doubled[0]}", "give each board its own id")
    if keep is not None:
        keep = as_listed(keep, parts, shop)
    layout = solve(
        boards,
        parts,
        shop,
        stop,
        seed=seed,
        keep=keep,
        on_better=on_better,
        progress=lambda share: progress("searching", 0.8 * share),
    )
    progress("validating", 0.8)
    objections = validate_layout(layout, boards, parts, shop)
    if objections:
        _refuse_what_cannot_stay(objections, kept_placements(keep, boards, parts), names_of(parts))
        # Never show a plan that the validator condemns: this is a bug, not the user's mistake.
        raise RuntimeError(
            "the layout fails its own validation: " + "; ".join(map(str, objections[:5]))
        )
    advice = (
        *sizes_said(parts, layout.placements, shop),
        *divided_sets(parts, layout.placements, shop, boards),
        *bookmatches_said(parts, layout.placements, shop),
        *staves_said(layout.placements, parts, shop),
        *grain_said(boards, parts, layout),
        *shapes_said(parts, layout),
        *machines_said(layout, shop),
        *snipe_said(layout, parts, shop),
        *jobs_said(parts, layout, shop),
        *loose_ties(boards, parts),
        *not_yet_honoured(parts),
    )
    return PlanResult(layout, advice, money_of(boards, shop, layout, parts))


def _refuse_what_cannot_stay(
    objections: Sequence[Objection],
    kept: Sequence[Placement],
    called: Callable[[str, int], str],
) -> None:
    """Refuse a former layout where what the judge condemns is a part that it keeps.

    A part that is cut has the size, kerf and place it was cut with; the list, the shop or the
    board may have been changed since.
    """
    for p in kept:
        for objection in objections:
            if objection.concerns(p):
                raise PlacementError(
                    f"{called(p.part, p.copy)} on {p.board} stays from the former layout, and does"
                    " not go with list, boards and shop as they are now"
                    f" ({objection.said(called)})",
                    "change them back, or let it go: unlock it, or call it spoiled",
                )


def write_plan(
    result: PlanResult,
    boards: tuple[Board, ...],
    parts: PartsList,
    shop: Shop,
    folder: Path,
    picture_folders: Mapping[str, Path],
    paper: Literal["a4", "letter"] = "a4",
    progress: Progress = lambda step, share: None,
    spoiled: tuple[Placement, ...] = (),
) -> tuple[Path, ...]:
    """Write ``layout.json``, the board maps and the layout sheet; return what was written.

    ``picture_folders`` says for each board id where its flat pictures lie. What was ``spoiled``
    before goes into the file, so that the next layout keeps off that wood too.
    """
    refuse_unwritable(folder)
    pictures = waiting_pictures(boards, picture_folders)
    # The sheets name the sizes that are made, where sizes may give.
    parts = parts_as_made(parts, result.layout.placements, shop)
    files = {"layout.json": layout_json(with_spoiled(result.layout, spoiled)).encode()}

    def drawn(count: int, of: int) -> None:
        progress(f"drawing {count} of {of}", 0.85 + 0.14 * count / of)

    sheets = board_maps(result.layout, boards, parts, shop, pictures, paper, drawn, on_all_cores)
    files.update(sheets)
    write_files(folder, files)
    return tuple(folder / name for name in files)


def on_all_cores(jobs: Sequence[SheetJob]) -> Iterator[dict[str, bytes]]:
    """Draw sheets on as many cores as are worth their beginning; yields them in order."""
    wanted = min(len(jobs) // _SHEETS_A_CORE, _MOST_PROCESSES)
    yield from work_through(draw_sheet, jobs, cores=cores_worth(wanted))


def load_pictures(
    boards: tuple[Board, ...], picture_folders: Mapping[str, Path]
) -> dict[tuple[str, int], Image.Image | None]:
    """Return the flat pictures by board id and face; None where there is none."""
    waiting = waiting_pictures(boards, picture_folders)
    return {key: None if opens is None else opens(1) for key, opens in waiting.items()}


def waiting_pictures(
    boards: tuple[Board, ...], picture_folders: Mapping[str, Path]
) -> dict[tuple[str, int], Callable[[int], Image.Image] | None]:
    """Return what opens each flat picture, by board id and face; None where there is none.

    It is told how many times coarser (1, 2, 4 or 8) the picture may come.
    """
    pictures: dict[tuple[str, int], Callable[[int], Image.Image] | None] = {}
    for board in boards:
        for number, face in board.faces.items():
            folder = picture_folders.get(board.id)
            path = folder / face.picture if folder and face.picture else None
            there = path is not None and path.is_file()
            pictures[board.id, number] = partial(_opened, path) if path and there else None
    return pictures


def _opened(path: Path, coarser: int) -> Image.Image:
    return open_picture(path, coarser)
