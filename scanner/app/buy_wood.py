"""The errand "how much to buy": a parts list in; board feet, and the chance that it fits, out."""

from __future__ import annotations

import base64
import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scanner.app.many import work_through
from scanner.app.open_lot import new_stamp, parts_of
from scanner.app.place_parts import known_units
from scanner.errors import SettingsError
from scanner.files.parts_list import read_parts
from scanner.files.shop_file import read_shop
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.buying import MOST_BOARDS, ChanceCurve, Trial, run_trial
from scanner.lot.buying_words import buying_lines
from scanner.lot.need import needs_of
from scanner.lot.yard import GRADES
from scanner.sheets.buying_picture import draw_buying
from scanner.sheets.png import png_bytes

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

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
    *,
    grade: str = "FAS",
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
    grade
        Boards are drawn like those of this grade.
    trials
        Simulated lots for each species and thickness class; the same seed draws the same lots.
    picture
        Where to write the curves (PNG), None for no picture.
    scheduler
        A Dask cluster to work on; see ``many.work_through``. The figures do not depend on it.

    Raises
    ------
    SettingsError
        A grade that is not known, or fewer than ten trials.
    """
    if grade not in GRADES:
        raise SettingsError(f'the grade "{grade}" is not known', f"write {', '.join(GRADES)}")
    if trials < 10:
        raise SettingsError(f"{trials} lots say nothing", "ask for 10 or more with --trials")
    if picture is not None:
        refuse_unwritable(picture.parent)
    parts = read_parts(parts_file, known_units(units))
    shop = read_shop(shop_file, known_units(units))
    needs = needs_of(parts, shop)
    curves = _curves(needs, grade, shop, trials, seed, scheduler, progress)
    if picture is not None:
        write_files(picture.parent, {picture.name: png_bytes(draw_buying(curves))})
    progress("done", 1.0)
    return buying_lines(curves)


def known_grades() -> tuple[str, ...]:
    """Return the grades that lots can be drawn like."""
    return tuple(GRADES)


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
    if grade not in GRADES:
        raise SettingsError(f'the grade "{grade}" is not known', f"write {', '.join(GRADES)}")
    asked = lot.parts_text()
    curves = _curves(
        needs_of(parts_of(lot), lot.shop()), grade, lot.shop(), _TRIALS, _SEED, None, progress
    )
    picture = base64.b64encode(png_bytes(draw_buying(curves))).decode()
    note: Json = {
        "parts": _mark(asked),
        "grade": grade,
        "lines": list(buying_lines(curves)),
        "picture": picture,
    }
    lot.set_note(_NOTE, note, new_stamp(lot), "worked out what to buy")


def kept_buying(lot: Lot) -> KeptBuying | None:
    """Return what was found for the parts list as it is now, None where it changed since."""
    note = lot.note(_NOTE)
    if not isinstance(note, dict) or note.get("parts") != _mark(lot.parts_text()):
        return None
    lines, picture = note.get("lines"), note.get("picture")
    if not isinstance(lines, list) or not isinstance(picture, str):
        return None
    return KeptBuying(
        str(note.get("grade")), tuple(str(line) for line in lines), base64.b64decode(picture)
    )


def _mark(text: object) -> str:
    return hashlib.sha256(repr(text).encode()).hexdigest()


def _curves(
    needs: tuple[Need, ...],
    grade: str,
    shop: Shop,
    trials: int,
    seed: int,
    scheduler: str | None,
    progress: Callable[[str, float], None],
) -> tuple[ChanceCurve, ...]:
    """Run all trials; the order of the results does not depend on where they ran.

    The first lots of each need say about how many boards the others begin with.
    """
    pilots = [(need, grade, shop, (seed, trial), 1) for need in needs for trial in range(_PILOTS)]
    count = len(needs) * trials
    first: list[Trial] = []
    for number, trial in enumerate(work_through(_one, pilots, scheduler=scheduler), 1):
        first.append(trial)
        progress(f"lot {number} of {count}", number / count)
    begins = [_usual(first[i * _PILOTS : (i + 1) * _PILOTS]) for i in range(len(needs))]
    jobs = [
        (need, grade, shop, (seed, trial), begin)
        for need, begin in zip(needs, begins, strict=True)
        for trial in range(_PILOTS, trials)
    ]
    rest: list[Trial] = []
    for number, trial in enumerate(work_through(_one, jobs, scheduler=scheduler), len(first) + 1):
        rest.append(trial)
        progress(f"lot {number} of {count}", number / count)
    more = trials - _PILOTS
    return tuple(
        ChanceCurve(
            need,
            grade,
            (*first[i * _PILOTS : (i + 1) * _PILOTS], *rest[i * more : (i + 1) * more]),
        )
        for i, need in enumerate(needs)
    )


def _usual(trials: list[Trial]) -> int:
    """Return the number of boards in the middle of some trials; a lot that never fits is large."""
    counts = sorted(MOST_BOARDS if t.boards is None else t.boards for t in trials)
    return counts[len(counts) // 2]


def _one(job: tuple[Need, str, Shop, tuple[int, int], int]) -> Trial:
    need, grade, shop, seed, begin = job
    return run_trial(need, grade, shop, seed, begin=begin)
