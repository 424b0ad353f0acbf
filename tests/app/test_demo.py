"""The demo keeps what was said in an earlier one."""

from scanner.app.demo import set_aside


def test_an_earlier_lot_is_kept_under_another_name_with_its_photos(tmp_path):
    (tmp_path / "demo.lot").write_text("what the user said")
    (tmp_path / "demo.lot-photos").mkdir()
    (tmp_path / "demo.lot-photos" / "a.jpg").write_text("photo")
    aside = set_aside(tmp_path / "demo.lot")
    assert aside is not None
    assert aside.read_text() == "what the user said"
    assert (tmp_path / f"{aside.name}-photos" / "a.jpg").read_text() == "photo"
    assert not (tmp_path / "demo.lot").exists()


def test_a_first_demo_has_nothing_to_keep(tmp_path):
    assert set_aside(tmp_path / "demo.lot") is None
