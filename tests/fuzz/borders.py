"""Every file border: good files to begin with, and what a user does with such a file."""

import io
import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from scanner.app.lot.move_lot import export_file, import_lot
from scanner.app.lot.open_lot import parts_of, set_parts
from scanner.board.flaw import FlawState
from scanner.files.board_file import board_from_text, board_json, read_board
from scanner.files.boards_list import read_boards_list
from scanner.files.camera_profiles import PhoneProfile, read_profiles, write_profiles
from scanner.files.layout_file import layout_json, read_layout
from scanner.files.parts_list import parts_json, read_parts
from scanner.files.shape_file import read_shape
from scanner.files.shop_file import read_shop
from scanner.placement.shop import Shop
from scanner.storage.journal import Stamp
from scanner.storage.lots import Lot, open_lot
from scanner.vision.evidence.lens_evidence import LensEvidence, Phone
from scanner.vision.photos.photo import read_flat_pixels, read_photo
from tests import common
from tests.fuzz.damage import BYTES, JSON, LOT, PNG, TEXT, ZIP, Damage
from tests.storage.said import saying, stamp

REAL = Path(os.environ.get("BOTHFACES_REAL", Path(__file__).parents[3] / "shared"))


@dataclass(frozen=True)
class Border:
    """One kind of file: how it is named, read, and damaged."""

    name: str
    suffix: str
    read: Callable[[Path], object]
    seeds: Callable[[], list[bytes]]
    damages: tuple[Damage, ...]


def _picture(kind: str, seed: int = 0) -> bytes:
    rng = np.random.default_rng(seed)
    small = rng.integers(60, 200, (60, 80, 3), dtype=np.uint8)
    picture = Image.fromarray(small).resize((1200, 900))
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = "Maker", "Phone 7", 1 + seed % 8
    exif.get_ifd(0x8769).update({0xA405: 26, 0xA002: 1200, 0xA003: 900, 0x920A: 5.1})
    made = io.BytesIO()
    picture.save(made, kind, exif=exif, **({"quality": 40} if kind == "JPEG" else {}))
    return made.getvalue()


def _pictures(kind: str) -> Callable[[], list[bytes]]:
    return lambda: [_picture(kind, seed) for seed in (0, 5)]


def _real_heic() -> list[bytes]:
    return [path.read_bytes() for path in sorted((REAL / "photos" / "exif").glob("*.heic"))[:1]]


def _boards() -> list[bytes]:
    return [board_json(board).encode() for board in (common.ash_board(), common.walnut_board())]


def _parts_csv() -> list[bytes]:
    inch = b"name,quantity,length,width,thickness,faces\nseat slat,3,23 1/2,3.5 in,3/4,both\n"
    return [
        (Path(__file__).parents[2] / "sample_images" / "parts.csv").read_bytes(),
        inch,
        inch.replace(b"\n", b"\r\n").decode().encode("utf-8-sig"),
    ]


def _profiles() -> list[bytes]:
    lens = LensEvidence(
        Phone("Maker Phone 7", 26, (4032, 3024)), np.eye(4) * 100, np.arange(4.0), photos=("a",)
    )
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "phones.json"
        write_profiles(path, [PhoneProfile(lens, ("B01",), ())])
        return [path.read_bytes()]


_SHOP = b"""units = "inch"
kerf_mm = 3.2
[price_per_board_foot]
"white ash 8/4" = 8.25
"""
_TYPED = b"id,species,length,width,thickness\nB01,white ash,96 in,7 1/4 in,4/4\n"
_SHAPE = (
    b'<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0 L100 0 C90 40 60 50 0 50 Z"/>'
    b'<line x1="0" y1="20" x2="60" y2="20"/></svg>'
)


def _filled_lot(path: Path) -> Lot:
    """Return a lot that has something of everything a lot can hold."""
    lot = open_lot(path)
    for board in (common.ash_board(), common.walnut_board()):
        lot.save_board(board, stamp())
    set_parts(lot, _parts_csv()[0].decode(), "parts.csv")
    lot.set_shop(Shop.inch(), stamp())
    lot.record(saying(FlawState.STRUCK))
    lot.undo(stamp())
    lot.save_layout(common.small_layout(), lot.revision)
    lot.set_note("milling", {"B01": ["first pass"]}, stamp(), "noted")
    picture = lot.keep_picture(_picture("JPEG"), "face 1.jpg")
    lot.set_photos("B01", {1: (picture,)})
    return lot


def _lot() -> list[bytes]:
    with tempfile.TemporaryDirectory() as place:
        lot = _filled_lot(Path(place) / "bench.lot")
        lot.copy_file(Path(place) / "copy")
        lot.close()
        return [(Path(place) / "copy").read_bytes()]


def _packed_lot() -> list[bytes]:
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "bench.lot"
        _filled_lot(path).close()
        export_file(path, Path(place) / "bench.zip")
        return [(Path(place) / "bench.zip").read_bytes()]


def _use_lot(path: Path) -> None:
    lot = open_lot(path, create=False)
    try:
        parts_of(lot)
        for board in lot.boards():
            lot.photos(board.id)
        for read in (
            lot.standings, lot.next_undo, lot.next_redo, lot.picture_names, lot.shop, lot.layout,
            lot.layouts, lot.ticks, lot.hand_rules, lot.layout_revision,
        ):  # fmt: skip
            read()
        lot.note("milling")
        lot.undo(Stamp("fuzz", 10**9, "fuzz"))
    finally:
        lot.close()


def _use_zip(path: Path) -> None:
    with tempfile.TemporaryDirectory() as place:
        _use_lot(import_lot(path, Path(place), "new"))


def _use_board(path: Path) -> None:
    board = read_board(path)
    board_from_text(board_json(board), path.name)


def _use_layout(path: Path) -> None:
    layout = read_layout(path)
    with tempfile.TemporaryDirectory() as place:
        again = Path(place) / "layout.json"
        again.write_text(layout_json(layout), encoding="utf-8")
        read_layout(again)


def _use_parts(path: Path) -> None:
    parts_json(read_parts(path, "inch"))


BORDERS = (
    Border("jpeg", ".jpg", read_photo, _pictures("JPEG"), BYTES),
    Border("png", ".png", read_flat_pixels, _pictures("PNG"), PNG),
    Border("heic", ".heic", read_photo, _real_heic, BYTES),
    Border("parts-csv", ".csv", _use_parts, _parts_csv, TEXT),
    Border(
        "parts-json", ".json", _use_parts,
        lambda: [parts_json(common.bench_parts()).encode()], JSON,
    ),
    Border(
        "boards-csv", ".csv", lambda path: read_boards_list(path, "inch"), lambda: [_TYPED], TEXT,
    ),
    Border("board", ".json", _use_board, _boards, JSON),
    Border(
        "layout", ".json", _use_layout,
        lambda: [layout_json(common.small_layout()).encode()], JSON,
    ),
    Border("shop", ".toml", lambda path: read_shop(path), lambda: [_SHOP], TEXT),
    Border("shape", ".svg", read_shape, lambda: [_SHAPE], TEXT),
    Border("profiles", ".json", read_profiles, _profiles, JSON),
    Border("lot", ".lot", _use_lot, _lot, LOT),
    Border("lot-zip", ".zip", _use_zip, _packed_lot, ZIP),
)  # fmt: skip
