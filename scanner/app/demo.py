"""The errand "demo": the main job on the sample set, from photos to sheets."""

from __future__ import annotations

import multiprocessing
import shutil
import threading
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from scanner.app.find_samples import find_samples
from scanner.app.placing.former_sheets import former_sheets, take_away, taken_away_line
from scanner.app.placing.plan_cuts import plan_cuts, write_plan
from scanner.app.placing.summaries import board_lines, plan_lines
from scanner.app.scanning.scan_board import scan_board
from scanner.app.scanning.scan_request import TypedOptions, scan_request
from scanner.errors import BoardError, FileError, ScannerError
from scanner.files.parts_list import read_parts
from scanner.files.sample_set import read_sample_set
from scanner.files.write import refuse_unwritable
from scanner.placement.shop import Shop
from scanner.placement.solve import warm_up
from scanner.placement.stop import Seconds

if TYPE_CHECKING:
    from collections.abc import Callable
    from contextlib import AbstractContextManager
    from pathlib import Path

    from scanner.app.scanning.scan_request import ScanRequest
    from scanner.board.board import Board
    from scanner.files.sample_set import SampleBoard
    from scanner.placement.layout import Layout

    Bar = Callable[[str], AbstractContextManager[Callable[[str, float], None]]]

# Long enough for the search to settle on a lot of this size, short enough to wait for.
_SEARCH_SECONDS = 10.0


def sample_folder() -> Path:
    """Return the folder of the sample set: here, or in the clone this program runs from."""
    folder = find_samples()
    if folder is None:
        raise FileError(
            "there is no sample_images folder here", "run this from a clone of the project"
        )
    return folder


def sample_request(sample: SampleBoard) -> ScanRequest:
    """Return the scan of one sample board, its options read as a person would type them."""
    typed = TypedOptions(
        thickness=sample.thickness,
        species=sample.species,
        more_1=sample.photos_1[1:],
        more_2=sample.photos_2[1:],
        **sample.options,
    )
    face_2 = sample.photos_2[0] if sample.photos_2 else None
    return scan_request(sample.id, sample.photos_1[0], face_2, typed)


def set_aside(lot: Path) -> Path | None:
    """Rename a former lot with its photos, so that a new run is seen and nothing said is lost."""
    if not lot.exists():
        return None
    stamp = datetime.fromtimestamp(lot.stat().st_mtime, tz=UTC).strftime("%Y%m%d-%H%M%S")
    aside = lot.with_name(f"{lot.stem}-{stamp}{lot.suffix}")
    for part in lot.parent.glob(f"{lot.name}*"):
        part.rename(part.with_name(part.name.replace(lot.name, aside.name, 1)))
    return aside


def run_demo(
    folder: Path,
    *,
    say: Callable[[str], None],
    bar: Bar,
    samples: Path | None = None,
) -> tuple[tuple[Board, ...], Layout]:
    """Scan the sample boards, place the sample parts, write everything into a folder.

    Parameters
    ----------
    folder
        Gets ``B*/board.json`` with pictures, ``layout.json``, the board maps and the layout sheet.
    say
        Prints one line.
    bar
        Opens a progress bar and gives its report.
    samples
        The sample set; by default the project's own.
    """
    samples = samples or sample_folder()
    refuse_unwritable(folder)
    parts = read_parts(samples / "parts.csv")
    if (aside := set_aside(folder / "demo.lot")) is not None:
        say(f"A lot of an earlier demo was kept as {aside}.")
    say("The sample pictures are rendered, not photographed (see sample_images/README.md).")
    boards: list[Board] = []
    refused: list[str] = []
    folders: dict[str, Path] = {}
    compiling = threading.Thread(target=warm_up)
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, mp_context=context) as pool:
        for sample in read_sample_set(samples):
            target = folder / sample.id
            try:
                with bar(sample.id) as report:
                    result = scan_board(sample_request(sample), target, report, pool)
            except ScannerError as problem:
                # One bad photo is one line with its reason; the other boards go on.
                say(f"{sample.id} could not be scanned. {problem}")
                refused.append(sample.id)
                continue
            if not boards:
                # On a fresh machine the search is compiled once (11-15 s); meanwhile boards go on.
                compiling.start()
            boards.append(result.board)
            folders[sample.id] = target
            for line in (*board_lines(result.board), *(f"  note: {n}" for n in result.advice)):
                say(line)
    if not boards:
        raise BoardError("no sample board could be scanned", "restore sample_images/ and try again")
    with bar("placing the parts") as report:
        compiling.join()
        shop, former = Shop(), former_sheets(folder)
        plan = plan_cuts(tuple(boards), parts, shop, Seconds(_SEARCH_SECONDS), progress=report)
        written = write_plan(plan, tuple(boards), parts, shop, folder, folders, progress=report)
        shutil.copyfile(samples / "parts.csv", folder / "parts.csv")
        report("done", 1.0)
    for line in (*plan_lines(plan), *taken_away_line(take_away(former, written))):
        say(line)
    say(f"Board maps and the layout: {len(written)} files in {folder}")
    if refused:
        say(f"Not scanned: {', '.join(refused)}; the layout does without.")
    return tuple(boards), plan.layout
