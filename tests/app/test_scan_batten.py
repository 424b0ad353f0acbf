"""A strip whose batten nobody told: no photo shows it, so the command says what it took."""

from types import SimpleNamespace

import pytest

from scanner.app.placing import summaries
from scanner.app.scanning import scan_board as errand
from tests.command import run


@pytest.mark.parametrize(
    ("told", "is_asked"),
    [
        ([], True),
        (["--batten", "26mm"], False),
        (["--rule", "36in"], False),
        (["--rule-on", "face"], False),
    ],
)
def test_a_strip_without_its_batten_is_said_to_lie_on_the_floor(
    capsys, monkeypatch, tmp_path, told, is_asked
):
    scanned = SimpleNamespace(board=None, advice=())
    monkeypatch.setattr(errand, "scan_board", lambda *_: scanned)
    monkeypatch.setattr(summaries, "board_lines", lambda *_: ["B01"])
    ran = run(capsys, monkeypatch, "scan", "front.jpg", *told, "-o", tmp_path / "B01")
    assert ran.status == 0
    assert ("--batten" in ran.out) == is_asked
    assert "--rule2" not in ran.out


def test_a_second_rule_beside_the_strip_is_said_to_do_nothing(capsys, monkeypatch, tmp_path):
    scanned = SimpleNamespace(board=None, advice=())
    monkeypatch.setattr(errand, "scan_board", lambda *_: scanned)
    monkeypatch.setattr(summaries, "board_lines", lambda *_: ["B01"])
    for told, is_said in ((["--rule2", "12in"], True), (["--rule", "1m", "--rule2", "1m"], False)):
        ran = run(capsys, monkeypatch, "scan", "front.jpg", *told, "-o", tmp_path / "B01")
        assert ("--rule2 has no effect beside the strip" in ran.out) == is_said
