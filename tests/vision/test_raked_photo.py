"""What a scan says of a low lamp's photo by how near it could be laid."""

from types import SimpleNamespace

import pytest

from scanner.vision import scan


@pytest.mark.parametrize(("u_mm", "said"), [(0.7, None), (1.34, "within 1.3 mm along the grain")])
def test_a_photo_laid_less_nearly_than_a_millimetre_along_the_grain_is_told(
    monkeypatch, u_mm, said
):
    monkeypatch.setattr(scan, "fit_scale", lambda *_: None)
    monkeypatch.setattr(scan, "own_views", lambda *_: (None,))
    laid = SimpleNamespace(picture="laid", along_u_mm=u_mm)
    monkeypatch.setattr(scan, "lay_over", lambda *_: laid)
    picture, told = scan._raked(SimpleNamespace(name="low.jpg"), None, None, None, None)
    assert picture == "laid"
    assert [said in one for one in told] == ([True] if said else [])
