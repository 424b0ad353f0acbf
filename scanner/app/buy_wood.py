"""The errand "how much to buy": a parts list in; board feet, and the chance that it fits, out."""

from __future__ import annotations

import multiprocessing
import os
from concurrent.futures import ProcessPoolExecutor
from typing import TYPE_CHECKING

from scanner.app.place_parts import known_units
from scanner.errors import SettingsError
from scanner.files.parts_list import read_parts
from scanner.files.shop_file import read_shop
from scanner.files.write import refuse_unwritable, write_files
from scanner.lot.buying import ChanceCurve, Trial, run_trial
from scanner.lot.buying_words import buying_lines
from scanner.lot.need import needs_of
from scanner.lot.yard import GRADES
from scanner.placement.solve import warm_up
from scanner.sheets.buying_picture import draw_buying
from scanner.sheets.png import png_bytes

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from scanner.lot.need import Need
    from scanner.placement.shop import Shop


def buy_wood(
    parts_file: Path,
    *,
    grade: str = "FAS",
    shop_file: Path | None = None,
    units: str = "mm",
    trials: int = 40,
    seed: int = 1,
    picture: Path | None = None,
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
    curves = _curves(needs, grade, shop, trials, seed, progress)
    if picture is not None:
        write_files(picture.parent, {picture.name: png_bytes(draw_buying(curves))})
    progress("done", 1.0)
    return buying_lines(curves)


def _curves(
    needs: tuple[Need, ...],
    grade: str,
    shop: Shop,
    trials: int,
    seed: int,
    progress: Callable[[str, float], None],
) -> tuple[ChanceCurve, ...]:
    """Run all trials, on the cores there are; the order of the results does not depend on them."""
    jobs = [(need, grade, shop, (seed, trial)) for need in needs for trial in range(trials)]
    done: list[Trial] = []
    # A fresh process each: the parent may hold a server's threads, which a fork would not copy.
    context = multiprocessing.get_context("spawn")
    workers = max(1, min(2, os.cpu_count() or 1))
    with ProcessPoolExecutor(workers, mp_context=context, initializer=warm_up) as pool:
        for number, trial in enumerate(pool.map(_one, jobs), 1):
            done.append(trial)
            progress(f"lot {number} of {len(jobs)}", number / len(jobs))
    return tuple(
        ChanceCurve(need, grade, tuple(done[i * trials : (i + 1) * trials]))
        for i, need in enumerate(needs)
    )


def _one(job: tuple[Need, str, Shop, tuple[int, int]]) -> Trial:
    need, grade, shop, seed = job
    return run_trial(need, grade, shop, seed)
