"""The main job as a user runs it: the demo on the sample set, in a clean folder."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from scanner.board.flaw import FlawState
from scanner.files.board_file import read_board
from scanner.files.layout_file import read_layout
from scanner.files.parts_list import read_parts
from scanner.files.schemas import schema
from scanner.geometry.polygons import iou, polygon_of
from scanner.placement.shop import Shop
from scanner.placement.validator.judge import validate_layout
from tests.command import run

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"

pytestmark = pytest.mark.slow

# Refuses every connection, so a step that wants the network fails the demo.
NO_NETWORK = """
import socket, sys
def refuse(*_, **__):
    raise OSError("no network in this test")
socket.socket.connect = refuse
socket.create_connection = refuse
socket.getaddrinfo = refuse
sys.argv = ["bothfaces", "demo", "--no-page"]
if __name__ == "__main__":
    from scanner.cli import main
    main()
"""


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    script = folder / "run_demo.py"
    script.write_text(NO_NETWORK)
    (folder / "sample_images").symlink_to(SAMPLES)
    ran = subprocess.run(
        [sys.executable, str(script)],
        cwd=folder,
        capture_output=True,
        text=True,
        env={
            "PYTHONPATH": str(ROOT),
            "PATH": "/usr/bin:/bin",
            "HOME": str(folder),
            # As all that the tests start: threads that wait at full speed take a tenth more CPU.
            "OMP_NUM_THREADS": "1",
            # Which kernels OpenBLAS takes decides last digits: the same here and on the cluster.
            **{k: v for k, v in os.environ.items() if k.startswith("OPENBLAS_")},
        },
        check=False,
    )
    assert ran.returncode == 0, ran.stderr[-3000:]
    return folder / "out" / "demo", ran.stdout


@pytest.fixture(scope="session")
def manifest():
    return json.loads((SAMPLES / "manifest.json").read_text())["boards"]


@pytest.fixture(scope="session")
def boards(demo):
    folder, _ = demo
    return {p.parent.name: read_board(p) for p in sorted(folder.glob("B*/board.json"))}


def test_every_sample_board_is_scanned(boards, manifest):
    assert list(boards) == [board["id"] for board in manifest]
    assert len(boards) >= 6


def test_files_follow_their_schemas(demo):
    folder, _ = demo
    for path in folder.glob("B*/board.json"):
        jsonschema.validate(json.loads(path.read_text()), schema("board"))
    jsonschema.validate(json.loads((folder / "layout.json").read_text()), schema("layout"))


def test_lengths_are_within_their_uncertainty_of_the_truth(boards, manifest):
    # Several boards at 95 %: one may lie outside, none by more than twice its U.
    off = [
        abs(boards[one["id"]].length.value_mm - one["truth"]["board"]["length"])
        / boards[one["id"]].length.u_mm
        for one in manifest
    ]
    assert sum(share > 1 for share in off) <= 1
    assert max(off) < 2


def test_outlines_agree_with_the_truth(boards, manifest):
    for one in manifest:
        for face in (1, 2):
            true = polygon_of(one["truth"]["board"]["outline"][str(face)])
            assert iou(boards[one["id"]].faces[face].outline, true) > 0.93, (one["id"], face)


def test_boards_are_turned_the_way_they_were(boards, manifest):
    for one in manifest:
        assert boards[one["id"]].turned == one["truth"]["turned"], one["id"]


def test_nothing_found_is_confirmed_by_itself(boards):
    for board in boards.values():
        assert not board.is_looked_over
        assert {flaw.state for flaw in board.flaws} == {FlawState.POSSIBLE}, board.id


def test_the_layout_stands_before_the_independent_validator(demo, boards):
    folder, _ = demo
    layout = read_layout(folder / "layout.json")
    parts = read_parts(SAMPLES / "parts.csv")
    assert layout.placements
    assert validate_layout(layout, tuple(boards.values()), parts, Shop()) == ()


def test_boards_not_looked_over_say_so_on_every_output(demo, boards):
    folder, printed = demo
    layout = read_layout(folder / "layout.json")
    opened = {placement.board for placement in layout.placements}
    assert opened <= set(layout.not_looked_over)
    for name in boards:
        assert f"{name}" in printed
    assert printed.count("NOT LOOKED OVER") >= len(boards)


def test_sheets_are_written_as_pdf_and_picture(demo):
    folder, _ = demo
    layout = read_layout(folder / "layout.json")
    for stem in ["layout", *(f"{p.board}-map" for p in layout.placements)]:
        assert (folder / f"{stem}.pdf").read_bytes().startswith(b"%PDF")
        assert (folder / f"{stem}.png").stat().st_size > 10_000


def test_the_summary_names_what_matters(demo):
    _, printed = demo
    for words in ("±", "board feet", "yield", "waste", "placed", "rendered"):
        assert words in printed


def test_a_folder_read_on_a_cluster_gives_the_board_of_the_demo(
    demo, manifest, tmp_path, capsys, monkeypatch
):
    distributed = pytest.importorskip("distributed")
    sample = manifest[0]
    photos = tmp_path / "photos"
    photos.mkdir()
    for name in (*sample["photos"]["1"], *sample["photos"]["2"]):
        shutil.copy(SAMPLES / name, photos / name)
    typed = ["--species", sample["species"], "--thickness", sample["thickness"]]
    for option, value in sample["scan"].items():
        typed += [f"--{option.replace('_', '-')}", value]
    with distributed.LocalCluster(
        # tests/app/test_many.py has two; here each loads all that a scan needs.
        n_workers=1,
        threads_per_worker=1,
        dashboard_address=None,
    ) as cluster:
        ran = run(
            capsys, monkeypatch, "scan", "--all", photos, *typed,
            "--scheduler", cluster.scheduler_address, "-o", tmp_path / "many",
        )  # fmt: skip
    assert ran.status == 0, ran.err
    there = json.loads((tmp_path / "many" / "B01" / "board.json").read_text())
    assert there == json.loads((demo[0] / "B01" / "board.json").read_text())
    assert there["faces"]["2"]["photos"] == sample["photos"]["2"]
