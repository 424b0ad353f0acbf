"""The errand "place": files in, layout and sheets out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from scanner.app.lot.given_boards import has_bare_figures, read_given_boards, refuse_begun_lots
from scanner.app.placing.follow_grain import with_grain
from scanner.app.placing.plan_cuts import PlanResult, plan_cuts, write_plan
from scanner.app.placing.spoiled_wood import spoiled_of, without_spoiled
from scanner.app.scanning.make_strip import known_paper
from scanner.errors import SettingsError
from scanner.files.layout_file import read_layout
from scanner.files.parts_list import read_parts
from scanner.files.shop_file import read_shop
from scanner.files.write import refuse_unwritable
from scanner.lot.off_board import off_board_lines
from scanner.placement.copy_names import names_of
from scanner.placement.stop import Seconds, Work
from scanner.units import is_bare

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.placement.layout import Placement
    from scanner.placement.parts import PartsList


def place_parts(
    parts_file: Path,
    board_files: tuple[Path, ...],
    folder: Path,
    *,
    shop_file: Path | None = None,
    units: str = "mm",
    seconds: float = 10.0,
    work: int | None = None,
    seed: int = 1,
    keep: Path | None = None,
    paper: str = "a4",
    progress: Callable[[str, float], None] = lambda step, share: None,
) -> tuple[PlanResult, tuple[Path, ...]]:
    """Place the parts of a list on boards and write the layout with its sheets.

    Returns
    -------
    tuple
        The result, and the files written.
    """
    refuse_unwritable(folder)
    unit, size = known_units(units), known_paper(paper)
    parts = read_parts(parts_file, unit)
    boards, folders = read_given_boards(board_files, unit)
    refuse_begun_lots(board_files)
    shop = read_shop(shop_file, unit)
    boards = with_grain(boards, parts, lambda board, face: _picture_of(board, face, folders))
    kept = read_layout(keep) if keep else None
    spoiled = spoiled_of(kept)
    boards = tuple(without_spoiled(board, spoiled) for board in boards)
    stop = Work(work) if work else Seconds(seconds)
    result = plan_cuts(boards, parts, shop, stop, seed=seed, keep=kept, progress=progress)
    written = write_plan(
        result, boards, parts, shop, folder, folders, size, progress, spoiled=spoiled
    )
    progress("done", 1.0)
    advice = (
        *result.advice,
        *off_board_lines(boards),
        *_pictures_missing(boards, folders),
        *_wood_gone(spoiled, parts),
    )
    return replace(result, advice=advice), written


def _wood_gone(spoiled: tuple[Placement, ...], parts: PartsList) -> tuple[str, ...]:
    """Return what is said of wood that was spoiled, now or before the former layout."""
    called = names_of(parts)
    return tuple(
        f"{called(p.part, p.copy)} was spoiled: its wood on {p.board} is left out of this layout,"
        " and of those placed after it with --keep"
        for p in spoiled
    )


def _pictures_missing(boards: tuple[Board, ...], folders: Mapping[str, Path]) -> tuple[str, ...]:
    """Return a line for each board whose map is drawn without a picture that its file names."""
    lacking: dict[str, list[str]] = {}
    for board in boards:
        for face in board.faces:
            path = _picture_of(board, face, folders)
            if path is not None and not path.is_file():
                lacking.setdefault(board.id, []).append(path.name)
    return tuple(
        f"{' and '.join(names)} of {board}: not beside the board's file, so that face is"
        " drawn without its photograph"
        for board, names in lacking.items()
    )


def _picture_of(board: Board, face: int, folders: Mapping[str, Path]) -> Path | None:
    folder, name = folders.get(board.id), board.faces[face].picture
    return folder / name if folder and name else None


def units_doubt(
    shop_file: Path, files: Iterable[Path], typed: Iterable[str] = ()
) -> tuple[str, ...]:
    """Return what is said where a shop counts in inches and bare numbers are read as mm.

    Nothing is, where neither the lists among ``files`` nor what was ``typed`` has bare numbers.
    """
    if read_shop(shop_file).units == "mm":
        return ()
    if not any(map(has_bare_figures, files)) and not any(map(is_bare, typed)):
        return ()
    return (
        f"figures without a unit are read as mm, though {shop_file} says inch: add --units inch"
        " if they are inches, --units mm if not",
    )


def known_units(text: str) -> Literal["mm", "inch"]:
    """Return the unit of bare numbers that was asked for; refuses all but mm and inch."""
    match text:
        case "mm" | "inch":
            return text
    raise SettingsError(f'--units: "{text}" is neither', "write mm or inch")
