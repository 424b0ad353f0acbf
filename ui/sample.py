"""The sample lot: the results of the demo, taken into a lot of its own."""

from scanner.app.open_lot import fill_from_results
from ui.desks import desk_of
from ui.place import sample_lot, sample_results


def can_open_sample() -> bool:
    """Return whether the demo's results or a sample lot made of them are there."""
    return sample_lot().is_file() or any(sample_results().glob("*/board.json"))


def open_sample() -> None:
    """Open the sample lot, filling it the first time; what was said of it before stays."""
    desk = desk_of(sample_lot())
    if not desk.lot.boards():
        fill_from_results(desk.lot, sample_results())
