"""``try PHOTO``: will it do, and what would be better; "no" is an answer, not an error."""

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.command import run

SAMPLE = Path("sample_images/ash-01-face1.jpg")
PLAIN = Path("sample_images/walnut-02-face1.jpg")


@pytest.mark.slow
def test_a_photo_with_a_strip_will_do_and_says_how_well(tmp_path, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "try", SAMPLE, "-o", tmp_path / "found.json")
    found = json.loads((tmp_path / "found.json").read_text())
    assert ran.status == 0
    assert ran.out.startswith("This photo will do")
    assert found["rule"]["kind"] == "strip"
    # Nobody taped this strip yet: 0.2 % of print scale, so 0.4 % of U and a little more.
    assert 0.004 < found["rule"]["u_rel"] < 0.007
    assert any("Tape the strip" in line for line in found["advice"])
    # Round the strip from its zero end: long, short, long, short sides.
    corners = np.array(found["rule"]["corners"])
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    assert sides[0] > 20 * sides[1] and sides[2] > 20 * sides[3]
    mm_per_px = sides[[0, 2]].mean() / 2500
    assert 1 / mm_per_px == pytest.approx(found["rule"]["mm_per_px"][1], rel=0.1)


@pytest.mark.slow
def test_what_is_amiss_with_a_photo_is_said_once(tmp_path, capsys, monkeypatch):
    """It was said of "this photo" and again of its name, with a capital that it has not."""
    with Image.open(SAMPLE) as sample:
        sample.save(tmp_path / "a.png", compress_level=1)
    run(capsys, monkeypatch, "try", tmp_path / "a.png", "-o", tmp_path / "found.json")
    advice = json.loads((tmp_path / "found.json").read_text())["advice"]
    assert sum("tells nothing of its camera" in line for line in advice) == 1
    assert not any("A.png" in line for line in advice)


def test_a_folder_in_a_photo_s_place_is_called_one(tmp_path, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "try", tmp_path)
    assert (ran.status, ran.out) == (2, "") and f"{tmp_path} is a folder" in ran.sentence


def test_a_photo_without_a_rule_is_answered_with_what_to_do(tmp_path, capsys, monkeypatch):
    grey = np.random.default_rng(3).normal(120, 6, (900, 1200, 3)).clip(0, 255).astype(np.uint8)
    Image.fromarray(grey).save(tmp_path / "floor.jpg")
    ran = run(capsys, monkeypatch, "try", tmp_path / "floor.jpg", "-o", tmp_path / "found.json")
    assert ran.status == 0
    assert ran.out.startswith("This photo will not do")
    found = json.loads((tmp_path / "found.json").read_text())
    assert found["rule"] is None
    assert found["tilt_deg"] is None
    assert "strip" in found["advice"][0]


@pytest.mark.parametrize(
    ("size", "said"), [((2100, 700), "is a panorama"), ((320, 240), "has only 320 x 240 pixels")]
)
def test_a_panorama_and_a_preview_are_answered_no(size, said, tmp_path, capsys, monkeypatch):
    Image.new("RGB", size, "grey").save(tmp_path / "wide.png")
    ran = run(capsys, monkeypatch, "try", tmp_path / "wide.png", "-o", tmp_path / "found.json")
    assert ran.status == 0
    assert ran.out.startswith(f"This photo will not do. wide.png {said}")
    found = json.loads((tmp_path / "found.json").read_text())
    assert (found["rule"], found["tilt_deg"], len(found["advice"])) == (None, None, 1)


def test_what_is_no_photo_is_refused_and_nothing_is_written(tmp_path, capsys, monkeypatch):
    (tmp_path / "notes.jpg").write_text("no picture")
    ran = run(capsys, monkeypatch, "try", tmp_path / "notes.jpg", "-o", tmp_path / "found.json")
    assert ran.status == 2
    assert "notes.jpg" in ran.sentence
    assert not (tmp_path / "found.json").exists()


@pytest.mark.slow
def test_a_strip_answers_where_a_plain_rule_was_told_by_mistake(tmp_path, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "try", SAMPLE, "--rule", "36in", "-o", tmp_path / "found.json")
    found = json.loads((tmp_path / "found.json").read_text())
    assert ran.status == 0
    assert found["rule"]["kind"] == "strip"
    assert "coded strip lies there" in found["advice"][0]
    # A photo with the told rule and no strip is answered by the rule.
    ran = run(capsys, monkeypatch, "try", PLAIN, "--rule", "36in", "-o", tmp_path / "plain.json")
    plain = json.loads((tmp_path / "plain.json").read_text())
    assert plain["rule"]["kind"] == "plain"
    assert not any("strip lies there" in line for line in plain["advice"])
