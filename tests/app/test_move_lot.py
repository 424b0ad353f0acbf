"""A lot packed and brought in elsewhere by the commands."""

import pytest

from scanner.app.lot.move_lot import name_of_packed
from scanner.app.lot.open_lot import open_lot, take_board
from tests.command import run
from tests.common import ash_board


def test_a_packed_lot_comes_in_elsewhere_and_overwrites_nothing(tmp_path, capsys, monkeypatch):
    lot = open_lot(tmp_path / "ash.lot")
    take_board(lot, ash_board(), tmp_path, {})
    lot.close()
    packed = tmp_path / "ash.zip"
    assert run(capsys, monkeypatch, "export", tmp_path / "ash.lot", "-o", packed).status == 0
    away = tmp_path / "else" / "where"
    ran = run(capsys, monkeypatch, "import", packed, "--name", "ash", "-o", away)
    assert ran.status == 0
    back = open_lot(away / "ash.lot")
    assert [flaw.id for flaw in back.board("B01").flaws] == [f.id for f in ash_board().flaws]
    back.close()
    again = run(capsys, monkeypatch, "import", packed, "--name", "ash", "-o", away)
    assert again.status == 2
    assert "ash" in again.sentence
    # Without a name it keeps that of its ZIP.
    assert run(capsys, monkeypatch, "import", packed, "-o", tmp_path / "third").status == 0
    assert (tmp_path / "third" / "ash.lot").exists()
    # A second download is called so by browsers, and brackets may name no lot.
    packed = packed.rename(packed.with_name("ash (1).zip"))
    assert run(capsys, monkeypatch, "import", packed, "-o", tmp_path / "third").status == 0
    assert (tmp_path / "third" / "ash 1.lot").exists()


def test_a_missing_lot_is_refused_and_not_made(tmp_path, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "export", tmp_path / "no.lot", "-o", tmp_path / "no.zip")
    assert ran.status == 2
    assert "there is no lot" in ran.sentence
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("target", "said"),
    [
        ("ash.lot", "ash.lot is a file that you gave"),
        ("other.lot", "other.lot has the name of a lot"),
        (".", "is a folder"),
        ("none/ash.zip", "there is no folder"),
    ],
)
def test_a_lot_is_never_packed_over_a_lot(target, said, tmp_path, capsys, monkeypatch):
    open_lot(tmp_path / "ash.lot").close()
    before = (tmp_path / "ash.lot").read_bytes()
    ran = run(capsys, monkeypatch, "export", tmp_path / "ash.lot", "-o", tmp_path / target)
    assert ran.status == 2 and said in ran.sentence
    assert (tmp_path / "ash.lot").read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["ash.lot"]


def test_what_is_no_packed_lot_makes_no_folder(tmp_path, capsys, monkeypatch):
    (tmp_path / "notes.zip").write_text("none")
    folder = tmp_path / "new"
    ran = run(capsys, monkeypatch, "import", tmp_path / "notes.zip", "--name", "ash", "-o", folder)
    assert ran.status == 2 and "notes.zip" in ran.sentence
    assert not folder.exists()
    (tmp_path / "file").write_text("no folder")
    ran = run(
        capsys, monkeypatch, "import", tmp_path / "notes.zip", "--name", "ash",
        "-o", tmp_path / "file",
    )  # fmt: skip
    assert ran.status == 2 and "is a file, not a folder" in ran.sentence


def test_a_lot_is_named_after_its_zip_however_a_system_writes_accents():
    assert name_of_packed("fre\u0302ne  hall.zip") == "fr\u00eane hall"
    assert name_of_packed("ash.2026 (1).zip") == "ash 2026 1"
