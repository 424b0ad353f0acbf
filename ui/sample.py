"""The sample lot: the results of the demo taken into a lot of its own, or scanned for it."""

from pathlib import Path

from scanner.app.find_samples import find_samples
from scanner.app.lot.open_lot import fill_from_results, give_sample_parts
from ui import apart
from ui.desks import Desk, Job, Progress, desk_of
from ui.place import sample_lot, sample_results


def can_open_sample() -> bool:
    """Return whether there is a sample lot, or something to make one of."""
    return sample_lot().is_file() or _has_results() or find_samples() is not None


def open_sample() -> None:
    """Open the sample lot, filling it the first time; what was said of it before stays.

    Raises
    ------
    ScannerError
        The results cannot be read, or the lot cannot be written.
    """
    sample_lot().parent.mkdir(parents=True, exist_ok=True)
    desk = desk_of(sample_lot())
    if desk.lot.standings() or (desk.job is not None and desk.job.is_running):
        return
    if _has_results():
        fill_from_results(desk.lot, sample_results())
        return

    # At once: whoever waits for the boards is not asked for parts that come with them.
    if (samples := find_samples()) is not None:
        give_sample_parts(desk.lot, samples)

    def scan(progress: Progress) -> None:
        # Only now: scanning loads the heavy libraries.
        from scanner.app.scan_sample import scan_sample

        apart.work_apart(scan_sample, desk.lot.path, progress=progress)

    desk.job = Job("Scanning the sample boards", scan)


def fill_new_lot(desk: Desk) -> None:
    """Take in the results that a lot lies among, if nothing was ever done in it.

    So the page that the demo starts shows what the demo made.
    """
    lot = desk.lot
    if lot.revision == 0 and _holds_results(lot.path.parent):
        fill_from_results(lot, lot.path.parent)


def _has_results() -> bool:
    return _holds_results(sample_results())


def _holds_results(folder: Path) -> bool:
    return any(folder.glob("*/board.json"))
