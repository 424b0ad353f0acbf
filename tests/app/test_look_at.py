"""The command ``look``: a flat picture in, outline and flaws in its pixels out."""

import json
import os
from pathlib import Path

import cv2
import numpy as np
import pytest

from scanner.board.flaw import FlawKind
from tests.command import run
from tests.vision.faces import PALE, PaintedFace

REAL = Path(os.environ.get("BOTHFACES_REAL", Path(__file__).parents[2] / ".." / "shared"))
WOOD = REAL / "wood"


@pytest.fixture(scope="module")
def board():
    face = PaintedFace(length_mm=400, width_mm=140, margin_mm=15, wood=PALE, floor=(18, 18, 20))
    face.knot(150, 60, 22)
    return face.picture().pixels


def saved(pixels, folder, name="board.png"):
    path = folder / name
    cv2.imwrite(str(path), np.ascontiguousarray(pixels)[..., ::-1])
    return path


@pytest.mark.slow
def test_look_writes_what_the_design_says(board, tmp_path, capsys, monkeypatch):
    path, out = saved(board, tmp_path), tmp_path / "found.json"
    ran = run(capsys, monkeypatch, "look", path, "--mm-per-px", "0.5", "-o", out)
    assert ran.status == 0, ran.err
    assert "not proven clear" in ran.out
    found = json.loads(out.read_text())
    assert list(found) == ["along", "outline", "flaws"]
    assert found["along"] == "x"
    flaw = found["flaws"][0]
    assert list(flaw) == ["kind", "sound", "outline", "score"]
    assert flaw["kind"] in list(FlawKind)
    x, y = np.mean(flaw["outline"], axis=0)
    assert abs(x - (150 + 15) / 0.5) < 8
    assert abs(y - (60 + 15) / 0.5) < 8


@pytest.mark.slow
def test_without_a_file_the_json_is_printed(board, tmp_path, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "look", saved(board, tmp_path), "--mm-per-px", "0.5")
    assert ran.status == 0
    assert json.loads(ran.out)["outline"]
    assert [p.name for p in tmp_path.iterdir()] == ["board.png"]


@pytest.mark.slow
def test_a_picture_may_lie_or_stand(board, tmp_path, capsys, monkeypatch):
    spots = []
    for name, pixels in (("lies.png", board), ("stands.png", np.rot90(board, -1))):
        path = saved(pixels, tmp_path, name)
        found = json.loads(run(capsys, monkeypatch, "look", path, "--mm-per-px", "0.5").out)
        spots.append((found["along"], np.mean(found["flaws"][0]["outline"], axis=0)))
    (lies, (x, y)), (stands, (u, v)) = spots
    assert (lies, stands) == ("x", "y")
    assert abs(v - x) < 1.5
    assert abs((board.shape[0] - 1 - u) - y) < 1.5


@pytest.mark.parametrize("scale", ["0", "-0.4", "25.4", "nan"])
def test_a_scale_that_cannot_be_meant_is_refused(scale, board, tmp_path, capsys, monkeypatch):
    out = tmp_path / "found.json"
    path = saved(board, tmp_path)
    ran = run(capsys, monkeypatch, "look", path, "--mm-per-px", scale, "-o", out)
    assert ran.status == 2
    assert "--mm-per-px" in ran.sentence
    assert ran.sentence.endswith(".")
    assert not out.exists()


def test_what_is_no_picture_is_refused(tmp_path, capsys, monkeypatch):
    path = tmp_path / "notes.png"
    path.write_text("no picture")
    ran = run(capsys, monkeypatch, "look", path, "--mm-per-px", "0.5")
    assert ran.status == 2
    assert "notes.png is not a picture" in ran.sentence


def test_a_picture_that_is_missing_is_refused(tmp_path, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "look", tmp_path / "gone.png", "--mm-per-px", "0.5")
    assert ran.status == 2
    assert "gone.png cannot be read" in ran.sentence


def test_a_picture_without_a_board_is_refused(tmp_path, capsys, monkeypatch):
    pixels = np.full((300, 800, 3), 20, np.uint8)
    pixels[110:190] = 200
    ran = run(capsys, monkeypatch, "look", saved(pixels, tmp_path), "--mm-per-px", "0.1")
    assert ran.status == 2
    assert "no board" in ran.sentence


@pytest.mark.slow
@pytest.mark.real
@pytest.mark.skipif(not WOOD.is_dir(), reason=f"no real sawn boards in {WOOD}")
def test_most_knots_of_a_real_board_are_found():
    # A training board: that the road from file to score is whole, not how good the weights are.
    from tests.bench.wood import faces, score_face

    face = next(f for f in faces("train", WOOD) if f.name.endswith("sec_07121.jpg"))
    counts, _ = score_face(face, "learned", WOOD)
    assert counts.get("labels") > 3
    assert counts.get("hit 0.3") >= 0.8 * counts.get("labels")
    assert counts.get("false 0.3") <= 2
