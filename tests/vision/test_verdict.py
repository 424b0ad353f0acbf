"""What is said of a fit that cannot be, and of a photo that will do or not."""

from types import SimpleNamespace

import numpy as np
import pytest

from scanner.errors import PhotoError, TooNearError
from scanner.vision.fit.verdict import refuse_bad, refuse_gap, refuse_misfit
from scanner.vision.trial import FoundRule, Trial, _light, _nearer


def fit_of(misfit=1.0, dropped=0.0, tilt_deg=10.0, high_mm=1500.0):
    """Return what a verdict looks at of a fit: one camera straight over the board's middle."""
    camera = SimpleNamespace(tilt_deg=tilt_deg, centre=np.array([600.0, 100.0, 27.0 + high_mm]))
    model = SimpleNamespace(camera=lambda state, index: camera)
    face = SimpleNamespace(middle_mm=(600.0, 100.0), thickness_mm=27.0)
    return SimpleNamespace(
        solution=SimpleNamespace(
            chi2_per_dof=misfit, dropped_share=dropped, model=model, state=None
        ),
        observations=SimpleNamespace(face=face),
        names=("front.jpg",),
    )


@pytest.mark.parametrize(
    ("wrong", "kind", "said"),
    [
        ({"misfit": 1e4}, PhotoError, "does not look as a flat one can .misfit 10000.0"),
        ({"dropped": 0.3}, PhotoError, "30 % of its marks left out"),
        ({"tilt_deg": 70.0}, PhotoError, "taken too flat over the board .70 degrees"),
        ({"high_mm": 300.0}, TooNearError, "from less than 0.4 m"),
    ],
)
def test_a_fit_that_cannot_be_is_refused_with_what_to_do(wrong, kind, said):
    refuse_bad(fit_of())
    with pytest.raises(kind, match=said):
        refuse_bad(fit_of(**wrong))


def test_a_photo_that_is_only_near_is_a_fit_all_the_same():
    refuse_misfit(fit_of(high_mm=300.0))


def grounds(*left_mm, horizon=False):
    """Return a fit of photos that show 1000 mm of floor each, from these places on."""

    def face_from_photo(index, border):
        far = 1e6 if horizon else 1.0
        return (border * 0.5 + (left_mm[index], 0.0)) * far

    return SimpleNamespace(
        sizes_px=[(2001, 1001)] * len(left_mm),
        names=tuple(f"{n}.jpg" for n in range(len(left_mm))),
        face_from_photo=face_from_photo,
    )


def test_photos_of_a_long_board_overlap_in_any_order_or_are_refused():
    refuse_gap(grounds(0.0, 800.0, 1600.0))
    refuse_gap(grounds(1600.0, 0.0, 800.0))
    refuse_gap(grounds(0.0, 5000.0, horizon=True))
    with pytest.raises(PhotoError, match=r"0\.jpg and 1\.jpg do not overlap: 500 mm"):
        refuse_gap(grounds(0.0, 1500.0))
    with pytest.raises(PhotoError, match="do not overlap: 0 mm"):
        refuse_gap(grounds(0.0, 970.0))


def rule(u_rel, corners=((900.0, 900.0), (3000.0, 900.0), (3000.0, 990.0), (900.0, 990.0))):
    return FoundRule("strip", 2500.0, corners, (0.8, 0.8, 0.8), u_rel)


@pytest.mark.parametrize(
    ("trial", "will_do", "said"),
    [
        (Trial(rule(0.0008), 10.0, ()), True, "This photo will do: lengths within about ± 2 mm"),
        (Trial(rule(0.01), 10.0, ()), True, "will do for rough lengths: about ± 24 mm"),
        (Trial(rule(0.5), 10.0, ()), False, "lengths would be off by about ± 1219 mm"),
        (Trial(None, None, (), "No rule found."), False, "will not do. No rule found."),
        (Trial(rule(0.0008), 10.0, (), "Too near."), False, "will not do. Too near."),
    ],
)
def test_the_answer_is_one_sentence(trial, will_do, said):
    assert trial.will_do is will_do
    assert said in trial.verdict


def test_who_thinks_in_inches_reads_them_first():
    trial = Trial(rule(0.005), 10.0, ())
    assert trial.verdict_in("inch").endswith("± 1/2 in (12 mm) over 8 ft.")
    assert trial.verdict.endswith("± 12 mm (1/2 in) over 8 ft.")


@pytest.mark.parametrize(
    ("mm_per_px", "tilt_deg", "corner", "said"),
    [
        (0.5, 10.0, 900.0, []),
        (4.0, 10.0, 900.0, ["go nearer: at the rule's far end nothing under 4.0 mm can be seen"]),
        (0.5, 60.0, 900.0, ["hold the phone higher over the board: it was tilted by 60 degrees"]),
        (0.5, 10.0, 2.0, ["step back a little"]),
    ],
)
def test_the_advice_is_what_would_help(mm_per_px, tilt_deg, corner, said):
    fit = SimpleNamespace(
        mm_per_px=lambda photo, place: mm_per_px, tilt_deg=tilt_deg, sizes_px=[(4000, 3000)]
    )
    seen = rule(0.001, ((corner, 900.0), (3000.0, 900.0), (3000.0, 990.0), (900.0, 990.0)))
    advice = _nearer(fit, seen)
    assert len(advice) == len(said)
    assert all(one.startswith(start) for one, start in zip(advice, said, strict=True))


def test_too_much_and_too_little_light_are_told():
    even = np.full((320, 320, 3), 120, np.uint8)
    assert _light(even) == []
    assert _light(even // 8)[0].startswith("the picture is dark")
    blinded = even.copy()
    blinded[:160] = 255
    assert _light(blinded)[0].startswith("part of the picture is blinded")
