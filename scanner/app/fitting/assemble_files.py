"""The errand "assemble": groups of a layout drawn as they will be seen, from files into files."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scanner.app.fitting.dry_fit import (
    ByHand,
    Fit,
    bench_from,
    beside,
    fit_of,
    fits_json,
    group_named,
    laid_by_hand,
    not_looked_over,
    order_of,
    piece_numbers,
    price_of_match,
    sheet_files,
    stem_of,
)
from scanner.app.placing.given_layout import read_given
from scanner.app.placing.place_parts import known_units
from scanner.app.placing.spoiled_wood import with_spoiled
from scanner.board.assembly import laid_as
from scanner.errors import SettingsError
from scanner.files.layout_file import layout_json
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.totals import unseen_lines
from scanner.sheets.paper import paper_named

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from scanner.app.fitting.dry_fit import Bench
    from scanner.app.placing.given_layout import Given
    from scanner.board.assembly import Assembly

_AS_THEY_LIE = ByHand()


def assemble_files(
    layout_file: Path,
    parts_file: Path,
    board_files: tuple[Path, ...],
    folder: Path,
    *,
    group: str | None = None,
    way: str | None = None,
    by_hand: ByHand = _AS_THEY_LIE,
    into_layout: bool = False,
    cost: bool = False,
    shop_file: Path | None = None,
    units: str = "mm",
    paper: str = "a4",
    progress: Callable[[str, float], None] = lambda step, share: None,
) -> tuple[tuple[str, ...], tuple[Path, ...]]:
    """Write sheets of one group or all, and ``assembled.json``; return lines to say and files.

    Parameters
    ----------
    into_layout
        What was asked of a group by hand goes into the layout too, and ``layout.json`` is written;
        pieces to slide ask for that themselves.

    Raises
    ------
    ScannerError
        A file cannot be read, there is no such group, or it cannot be laid as it was asked for.
    """
    refuse_unwritable(folder)
    size = paper_named(paper)
    if group is None and (by_hand.is_anything or into_layout):
        raise SettingsError(
            "--order, --flip, --turn, --slide and --into-layout are about one group",
            "say which by --group",
        )
    given = read_given(layout_file, parts_file, board_files, shop_file, units)
    bench = bench_from(given.layout, given.boards, given.parts, given.shop, given.folders)
    files: dict[str, bytes] = {}
    groups: tuple[Assembly, ...]
    if group is not None and (by_hand.slide or into_layout):
        progress("laying it into the layout", 0.0)
        bench, laid = _into_layout(bench, given, parts_file, group, by_hand, units)
        files["layout.json"] = layout_json(with_spoiled(bench.layout, given.spoiled)).encode()
        groups, by_hand = (laid,), _AS_THEY_LIE
    else:
        groups = bench.groups()
    chosen = groups if group is None else (group_named(groups, group),)
    fits: list[Fit] = []
    for number, one in enumerate(chosen):
        progress(one.title, number / len(chosen))
        fit = fit_of(bench, laid_by_hand(one, by_hand, way))
        if cost:
            fit = replace(fit, costs=price_of_match(bench, fit.assembly))
        stem = stem_of(one.title)
        files |= beside(sheet_files(bench, fit, stem, size), stem, files)
        fits.append(fit)
    unseen = not_looked_over(bench, fits)
    files["assembled.json"] = fits_json(fits, unseen)
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
    if "layout.json" in files:
        lines.append("layout.json holds what you asked; the other parts were placed round it.")
    lines += unseen_lines(unseen)
    return tuple(lines), tuple(folder / name for name in files)


def _into_layout(
    bench: Bench,
    given: Given,
    parts_file: Path,
    title: str,
    asked: ByHand,
    units: str,
) -> tuple[Bench, Assembly]:
    """Return what lies on the bench once a group was cut as was asked, and the group as it lies."""
    from scanner.app.fitting.fit_into_layout import laid_into_layout

    group = group_named(bench.groups(), title)
    layout, notes = laid_into_layout(
        given,
        parts_file,
        title,
        order=order_of(asked.order, group) if asked.order else (),
        flips=piece_numbers(asked.flip, "--flip", group),
        turns=piece_numbers(asked.turn, "--turn", group),
        slides=_slides(asked.slide or "", group),
        units=known_units(units),
    )
    changed = replace(bench, layout=layout)
    return changed, laid_as(group_named(changed.groups(), title), notes.lies)


def _slides(text: str, group: Assembly) -> tuple[tuple[int, str], ...]:
    found = []
    for entry in filter(None, (one.strip() for one in text.split(","))):
        number, equals, far = entry.partition("=")
        if not equals or not far.strip():
            raise SettingsError(f'--slide "{entry}" says not how far', "write it like 2=40mm")
        (piece,) = piece_numbers(number.strip() or "0", "--slide", group)
        found.append((piece, far))
    return tuple(found)
