"""The errand "how much to buy": a parts list in; board feet, and the chance that it fits, out."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.app.lot.given_boards import read_given_boards
from scanner.app.lot.open_lot import new_stamp, parts_of
from scanner.app.many import work_through
from scanner.app.placing.place_parts import known_units
from scanner.errors import SettingsError
from scanner.files.board_file import board_json
from scanner.files.parts_list import read_parts
from scanner.files.shop_file import read_shop
from scanner.files.write import refuse_given, refuse_unwritable, write_files
from scanner.lot.buying import MOST_BOARDS, OWN, ChanceCurve, Trial, run_trial
from scanner.lot.buying_words import buying_lines
from scanner.lot.need import needs_of
from scanner.lot.own_boards import boards_like
from scanner.lot.yard import GRADES
from scanner.sheets.buying_picture import draw_buying
from scanner.sheets.png import png_bytes

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from scanner.board.board import Board
    from scanner.lot.need import Need
    from scanner.placement.shop import Shop
    from scanner.storage.lots import Lot
    from scanner.storage.values import Json

_NOTE = "buying"
_TRIALS, _SEED = 40, 1
# So many lots of each need are tried from one board up.
_PILOTS = 3


def buy_wood(
    parts_file: Path,
    board_files: tuple[Path, ...] = (),
    *,
    grade: str | None = None,
    shop_file: Path | None = None,
    units: str = "mm",
    trials: int = 40,
    seed: int = 1,
    picture: Path | None = None,
    scheduler: str | None = None,
    progress: Callable[[str, float], None] = lambda step, share: None,
) -> tuple[str, ...]:
    """Return what to buy of each species and thickness class, in lines of plain text.

    Parameters
    ----------
    board_files
        The user's own boards (``board.json``, ``boards.csv``): lots are drawn from them.
    grade
        Else boards are drawn like those of this grade: FAS unless said.
    trials
        Simulated lots for each species and thickness class; the same seed draws the same lots.
    picture
        Where to write the curves (PNG), None for no picture.
    scheduler
        A Dask cluster to work on; see ``many.work_through``. The figures do not depend on it.

    Raises
    ------
    SettingsError
        A grade that is not known, a grade and boards at once, or fewer than ten trials.
    """
    if grade is not None and board_files:
        raise SettingsError(
            "lots are drawn from a grade or from your own boards, not from both",
            "leave --grade or the boards out",
        )
    wanted = OWN if board_files else grade or "FAS"
    if wanted not in (*GRADES, OWN):
        raise SettingsError(f'the grade "{grade}" is not known', f"write {', '.join(GRADES)}")
    if trials < 10:
        raise SettingsError(f"{trials} lots say nothing", "ask for 10 or more with --trials")
    if picture is not None:
        refuse_given(picture, parts_file, *board_files, shop_file, ending=".png")
        refuse_unwritable(picture.parent)
    parts = read_parts(parts_file, known_units(units))
    shop = read_shop(shop_file, known_units(units))
    own, _ = read_given_boards(board_files, known_units(units))
    needs = needs_of(parts, shop)
    curves = _curves(needs, wanted, own, shop, trials, seed, scheduler, progress)
    if picture is not None:
        write_files(picture.parent, {picture.name: png_bytes(draw_buying(curves))})
    progress("done", 1.0)
    return buying_lines(curves, shop)


def known_grades(lot: Lot) -> tuple[str, ...]:
    """Return what lots can be drawn like: grades, and the lot's own boards where it has any."""
    return (*GRADES, OWN) if lot.boards() else tuple(GRADES)


@dataclass(frozen=True, slots=True)
class KeptBuying:
    """What was found for a lot's list: the grade asked for, lines, and the picture (PNG)."""

    grade: str
    lines: tuple[str, ...]
    picture: bytes


def look_what_to_buy(lot: Lot, grade: str, progress: Callable[[str, float], None]) -> None:
    """Work out what to buy for a lot's parts list and note it in the lot.

    Raises
    ------
    ScannerError
        There is no parts list, or the grade is not known.
    """
    if grade not in known_grades(lot):
        raise SettingsError(f'the grade "{grade}" is not known', f"write {', '.join(GRADES)}")
    asked = _asked(lot, grade)
    own, shop = lot.boards() if grade == OWN else (), lot.shop()
    curves = _curves(
        needs_of(parts_of(lot), shop), grade, own, shop, _TRIALS, _SEED, None, progress
    )
    picture = base64.b64encode(png_bytes(draw_buying(curves))).decode()
    note: Json = {
        "parts": asked,
        "grade": grade,
        "lines": list(buying_lines(curves, shop)),
        "picture": picture,
    }
    lot.set_note(_NOTE, note, new_stamp(lot), "worked out what to buy")


def kept_buying(lot: Lot) -> KeptBuying | None:
    """Return what was found for the parts list as it is now, None where it changed since.

    What was drawn from the lot's own boards is out of date with them, too.
    """
    note = lot.note(_NOTE)
    if not isinstance(note, dict) or note.get("parts") != _asked(lot, str(note.get("grade"))):
        return None
    lines, picture = note.get("lines"), note.get("picture")
    if not isinstance(lines, list) or not isinstance(picture, str):
        return None
    return KeptBuying(
        str(note.get("grade")), tuple(str(line) for line in lines), base64.b64decode(picture)
    )


def _asked(lot: Lot, grade: str) -> str:
    """Return a mark that changes with what the answer rests on."""
    own = [board_json(board) for board in lot.boards()] if grade == OWN else []
    return hashlib.sha256(repr((lot.parts_text(), own, lot.shop())).encode()).hexdigest()


def _curves(
    needs: tuple[Need, ...],
    grade: str,
    own: tuple[Board, ...],
    shop: Shop,
    trials: int,
    seed: int,
    scheduler: str | None,
    progress: Callable[[str, float], None],
) -> tuple[ChanceCurve, ...]:
    """Run all trials; the order of the results does not depend on where they ran.

    The first lots of each need say about how many boards the others begin with.
    """
    drawn = [boards_like(own, need) for need in needs]
    tried = [(need, like) for need, like in zip(needs, drawn, strict=True) if grade != OWN or like]
    pilots = [
        (need, grade, shop, (seed, trial), 1, like)
        for need, like in tried
        for trial in range(_PILOTS)
    ]
    count = len(tried) * trials
    first: list[Trial] = []
    for number, trial in enumerate(work_through(_one, pilots, scheduler=scheduler), 1):
        first.append(trial)
        progress(f"lot {number} of {count}", number / count)
    begins = [_usual(first[i * _PILOTS : (i + 1) * _PILOTS]) for i in range(len(tried))]
    jobs = [
        (need, grade, shop, (seed, trial), begin, like)
        for (need, like), begin in zip(tried, begins, strict=True)
        for trial in range(_PILOTS, trials)
    ]
    rest: list[Trial] = []
    for number, trial in enumerate(work_through(_one, jobs, scheduler=scheduler), len(first) + 1):
        rest.append(trial)
        progress(f"lot {number} of {count}", number / count)
    more = trials - _PILOTS
    found = [
        (*first[i * _PILOTS : (i + 1) * _PILOTS], *rest[i * more : (i + 1) * more])
        for i in range(len(tried))
    ]
    made = iter(found)
    return tuple(
        ChanceCurve(need, grade, next(made) if grade != OWN or like else (), own=len(like))
        for need, like in zip(needs, drawn, strict=True)
    )


def _usual(trials: list[Trial]) -> int:
    """Return the number of boards in the middle of some trials; a lot that never fits is large."""
    counts = sorted(MOST_BOARDS if t.boards is None else t.boards for t in trials)
    return counts[len(counts) // 2]


def _one(job: tuple[Need, str, Shop, tuple[int, int], int, tuple[Board, ...]]) -> Trial:
    need, grade, shop, seed, begin, own = job
    return run_trial(need, grade, shop, seed, begin=begin, own=own)
