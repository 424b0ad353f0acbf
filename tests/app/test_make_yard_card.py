"""The yard card as files: paper, and a phone without a signal."""

import json
import re

from pypdf import PdfReader

from scanner.lot.yard_card import card_sections
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.sheets.yard_card_html import yard_card_html
from tests.command import run
from tests.common import bench_parts

LIST = """name,quantity,length,width,thickness,faces,species
bench leg,4,430 mm,70 mm,20 mm,both,white ash
"""


def test_the_command_writes_paper_and_file(tmp_path, capsys, monkeypatch):
    parts = tmp_path / "parts.csv"
    parts.write_text(LIST)
    ran = run(capsys, monkeypatch, "yard-card", parts, "--budget", 100, "-o", tmp_path / "card")
    assert ran.status == 0
    pages = PdfReader(tmp_path / "card" / "yard-card.pdf").pages
    text = " ".join(page.extract_text() for page in pages)
    for words in ("bench leg", "455", "82", "A board foot may cost at most", "not proven clear"):
        assert words in text
    assert "bench leg" in (tmp_path / "card" / "yard-card.html").read_text()


def test_nothing_left_to_find_is_one_sentence(tmp_path, capsys, monkeypatch):
    parts = tmp_path / "parts.csv"
    parts.write_text(LIST.replace("bench leg,4", "bench leg,1"))
    layout = {
        "format": "layout", "version": 1, "cut_class": "three_stage_trimmed", "kerf": 3.2,
        "seed": 1, "work": 0, "pieces": [], "cuts": [], "unplaced": [], "offcuts": [],
        "placements": [
            {"part": "bench leg", "copy": 1, "board": "B01", "x": 10, "y": 10, "length": 455,
             "width": 82, "angle": 0, "show_face": None, "margin": 2, "locked": False,
             "state": "planned"}
        ],
        "summary": {"placed": 1, "asked": 1, "boards_opened": 1, "area_opened": 1e5,
                    "board_feet": 1, "yield": 0.3},
        "bound": {"of": "value", "cut_class": "any", "value": 1, "gap": 0},
        "not_looked_over": [],
    }  # fmt: skip
    (tmp_path / "layout.json").write_text(json.dumps(layout))
    ran = run(
        capsys, monkeypatch, "yard-card", parts, "--layout", tmp_path / "layout.json", "-o",
        tmp_path / "card",
    )  # fmt: skip
    assert ran.status == 2
    assert "every part has its place already" in ran.sentence
    assert not (tmp_path / "card").exists()


def test_the_file_asks_nobody_for_anything():
    text = yard_card_html(card_sections(bench_parts(), Shop()), "mm", 3.2, 50.0)
    assert not re.search(r"https?:|//|src=|href=|@import|url\(", text)


def test_a_part_s_name_cannot_break_the_file():
    evil = Part("</script><b>&", 1, 300.0, 50.0, 20.0, Faces.BOTH)
    text = yard_card_html(card_sections((evil,), Shop()), "mm", 3.2, 50.0)
    assert "</script><b>" not in text
    data = re.search(r"id='card'>(.*?)</script>", text).group(1)
    assert json.loads(data)["sections"][0][0]["name"] == "</script><b>&"
