"""The errand "assemble": groups of a layout drawn as they will be seen, from files into files."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.app.dry_fit import (
    Fit,
    bench_from,
    by_hand,
    fit_of,
    fits_json,
    group_named,
    price_of_match,
    sheet_files,
    stem_of,
)
from scanner.app.given_layout import read_given
from scanner.errors import SettingsError
from scanner.files.write import refuse_unwritable, write_files
from scanner.sheets.paper import paper_named

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def assemble_files(
    layout_file: Path,
    parts_file: Path,
    board_files: tuple[Path, ...],
    folder: Path,
    *,
    group: str | None = None,
    way: str | None = None,
    order: str | None = None,
    flip: str | None = None,
    turn: str | None = None,
    cost: bool = False,
    shop_file: Path | None = None,
    units: str = "mm",
    paper: str = "a4",
    progress: Callable[[str, float], None] = lambda step, share: None,
) -> tuple[tuple[str, ...], tuple[Path, ...]]:
    """Write sheets of one group or all, and ``assembled.json``; return lines to say and files.

    Raises
    ------
    ScannerError
        A file cannot be read, there is no such group, or it cannot be laid as it was asked for.
    """
    refuse_unwritable(folder)
    size = paper_named(paper)
    if group is None and (order or flip or turn):
        raise SettingsError(
            "--order, --flip and --turn name pieces of one group", "say which by --group"
        )
    given = read_given(layout_file, parts_file, board_files, shop_file, units)
    bench = bench_from(given.layout, given.boards, given.parts, given.shop, given.folders)
    groups = bench.groups()
    chosen = groups if group is None else (group_named(groups, group),)
    fits: list[Fit] = []
    files: dict[str, bytes] = {}
    for number, one in enumerate(chosen):
        progress(one.title, number / len(chosen))
        fit = fit_of(bench, by_hand(one, way=way, order=order, flip=flip, turn=turn))
        if cost:
            fit = replace(fit, costs=price_of_match(bench, fit.assembly))
        files |= sheet_files(bench, fit, stem_of(one.title), size)
        fits.append(fit)
    files["assembled.json"] = fits_json(fits)
    write_files(folder, files)
    progress("done", 1.0)
    lines = [
        line
        for fit in fits
        for line in (
            f"{fit.assembly.title}: {len(fit.assembly.members)} pieces",
            *(f"  {said}" for said in (*fit.hints, *fit.costs)),
        )
    ]
    if not fits:
        lines = ["No group to assemble: every part is one piece of its kind."]
    return tuple(lines), tuple(folder / name for name in files)
