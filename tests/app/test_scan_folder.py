"""A folder of photos becomes boards: by card, by order, by outline; the rest is named."""

from types import SimpleNamespace

import pytest

from scanner.app.lot import scan_folder as errand
from scanner.app.scanning.scan_request import TypedOptions
from scanner.errors import PhotoError, SettingsError
from tests.board.two_faces import FACE, OTHER, as_turned, reading

STRIP = TypedOptions(batten="26 mm", strip_taped="2501.5 mm")
SIDES = {
    "ash-1": reading(FACE),
    "ash-2": as_turned(FACE, (), "sideways"),
    "oak-1": reading(OTHER),
    "oak-2": as_turned(OTHER, (), "end_over_end"),
}


class Scan(SimpleNamespace):
    """What the errand asks of a scanned face."""


@pytest.fixture
def heap(tmp_path, monkeypatch):
    """Return a function: photo name to (side, card), laid as files; scans by those names."""
    saved = {}

    def lay(photos):
        folder = tmp_path / "photos"
        folder.mkdir()
        for name in photos:
            (folder / name).write_bytes(name.replace(" (1)", "").encode())

        def scanned(job):
            side = photos[job[0][0].name][0]
            if side is None:
                return f"{job[0][0].name}: no board found: take it again."
            return Scan(
                photos=tuple(path.name for path in job[0]),
                reading=SIDES[side],
                card=None,
                lens=None,
            )

        def save(request, scans, folder, notes=()):
            saved[request.id] = ([scan.photos for scan in scans.values()], notes)
            return SimpleNamespace(id=request.id, notes=notes)

        monkeypatch.setattr(errand, "_scanned", scanned)
        monkeypatch.setattr(errand, "_card_of", lambda path: photos[path.name][1])
        monkeypatch.setattr(errand, "replace", lambda scan, **new: _with(scan, new))
        monkeypatch.setattr(errand, "save_board", save)
        return folder

    lay.saved = saved
    return lay


def _with(value, new):
    if isinstance(value, Scan):
        return Scan(**{**vars(value), **new})
    from dataclasses import replace

    return replace(value, **new)


def scan(folder, **more):
    return errand.scan_folder(folder, folder.parent / "boards", STRIP, cores=1, **more)


@pytest.mark.slow
def test_faces_that_follow_each_other_are_one_board_and_10_comes_after_9(heap):
    folder = heap(
        {
            "IMG_9.jpg": ("ash-1", None),
            "IMG_10.jpg": ("ash-2", None),
            "IMG_11.jpg": ("oak-1", None),
            "IMG_12.jpg": ("oak-2", None),
        }
    )
    result = scan(folder)
    assert heap.saved["B01"][0] == [("IMG_9.jpg",), ("IMG_10.jpg",)]
    assert heap.saved["B02"][0] == [("IMG_11.jpg",), ("IMG_12.jpg",)]
    assert result.left == ()


@pytest.mark.slow
def test_a_missing_photo_does_not_shift_the_boards_after_it(heap):
    folder = heap(
        {"1.jpg": ("oak-1", None), "2.jpg": ("ash-1", None), "3.jpg": ("ash-2", None)},
    )
    result = scan(folder)
    assert [board.board.id for board in result.boards] == ["B01"]
    assert heap.saved["B01"][0] == [("2.jpg",), ("3.jpg",)]
    assert [line.split(":")[0] for line in result.left] == ["1.jpg"]


def test_cards_settle_board_and_face_in_any_order(heap):
    folder = heap(
        {
            "1.jpg": ("oak-2", (4, 2)),
            "2.jpg": ("ash-1", (7, 1)),
            "3.jpg": ("oak-1", (4, 1)),
            "4.jpg": ("ash-2", (7, 2)),
        }
    )
    scan(folder)
    assert heap.saved["B04"][0] == [("3.jpg",), ("1.jpg",)]
    assert heap.saved["B07"][0] == [("2.jpg",), ("4.jpg",)]


def test_two_photos_with_one_card_are_one_face(heap):
    folder = heap(
        {"1.jpg": ("ash-1", (7, 1)), "2.jpg": ("ash-1", (7, 1)), "3.jpg": ("ash-2", (7, 2))}
    )
    scan(folder)
    assert heap.saved["B07"][0] == [("1.jpg", "2.jpg"), ("3.jpg",)]


@pytest.mark.slow
def test_what_order_does_not_pair_the_outline_does_and_it_is_said(heap):
    folder = heap(
        {
            "1.jpg": ("ash-1", None),
            "2.jpg": ("oak-1", None),
            "3.jpg": ("ash-2", None),
            "4.jpg": ("oak-2", None),
        }
    )
    result = scan(folder)
    assert {photos[0][0] + photos[1][0] for photos, _ in heap.saved.values()} == {
        "1.jpg3.jpg",
        "2.jpg4.jpg",
    }
    assert all("by its outline alone" in notes[0] for _, notes in heap.saved.values())
    assert result.left == ()


def test_one_bad_photo_stops_nothing_and_is_named(heap):
    folder = heap(
        {
            "1.jpg": (None, None),
            "2.jpg": ("oak-1", None),
            "3.jpg": ("ash-1", None),
            "4.jpg": ("ash-2", None),
        }
    )
    result = scan(folder)
    assert len(result.boards) == 1
    assert [line.split(":")[0] for line in result.left] == ["1.jpg", "2.jpg"]


def test_a_copy_of_a_photo_shifts_no_pair_and_is_named(heap):
    folder = heap(
        {
            "1.jpg": ("ash-1", None),
            "1 (1).jpg": ("ash-1", None),
            "2.jpg": ("ash-2", None),
            "3.jpg": ("oak-1", None),
            "4.jpg": ("oak-2", None),
        }
    )
    result = scan(folder)
    assert sum(heap.saved["B01"][0] + heap.saved["B02"][0], ()) == (
        "1.jpg", "2.jpg", "3.jpg", "4.jpg",
    )  # fmt: skip
    assert result.left == ("1 (1).jpg is a copy of 1.jpg and was left out.",)


def test_photos_that_are_alike_but_not_neighbours_are_all_taken(heap):
    folder = heap({name: (None, None) for name in ("1.jpg", "2.jpg", "3.jpg")})
    for name in ("1.jpg", "3.jpg"):
        (folder / name).write_bytes(b"one picture")
    assert [line.split(":")[0] for line in scan(folder).left] == ["1.jpg", "2.jpg", "3.jpg"]


def test_what_belongs_to_one_board_is_refused(heap):
    folder = heap({"1.jpg": ("ash-1", None)})
    with pytest.raises(SettingsError, match="--taped belongs to one board"):
        errand.scan_folder(folder, folder.parent / "x", TypedOptions(taped="96in"))


def test_an_empty_folder_is_said(tmp_path):
    with pytest.raises(PhotoError, match="holds no photo"):
        errand.scan_folder(tmp_path, tmp_path / "x", STRIP)
