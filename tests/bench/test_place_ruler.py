"""What layouts are held against: bounds as they are kept."""

import json
from types import SimpleNamespace

import pytest

from scanner.placement.layout import Bound
from tests.bench import place_settled
from tests.bench.place import Run, kept_bench, known, settled_bound, settled_file
from tests.bench.place_settled import Standing


def _keep(folder, seed, **row):
    settled_file(folder, "medium", "scarce", seed).write_text(json.dumps(row) + "\n")


def test_the_bound_of_another_job_whose_number_begins_alike_is_not_taken(tmp_path, monkeypatch):
    monkeypatch.setattr("tests.bench.place.cutting_folder", lambda: tmp_path)
    (tmp_path / "results.jsonl").write_text("")
    _keep(tmp_path, 60, bound=3.0)
    assert known("medium", "scarce", 60, tmp_path)[0] == 3.0
    assert known("medium", "scarce", 6, tmp_path)[0] != 3.0


def test_the_closer_one_of_two_bounds_counts(tmp_path):
    _keep(tmp_path, 60, **{"class": "three_stage", "bound": 3.0})
    job = ("medium", "scarce", 60, "three_stage", tmp_path)
    assert settled_bound(*job, 3.3) == 3.0
    assert settled_bound(*job, 2.9) == 2.9
    assert settled_bound(*job, float("nan")) == 3.0


def test_of_the_wood_that_is_opened_the_larger_bound_is_the_closer_one(tmp_path):
    row = {"class": "three_stage", "bound": 3.0}
    settled_file(tmp_path, "medium", "ample", 60).write_text(json.dumps(row))
    assert settled_bound("medium", "ample", 60, "three_stage", tmp_path, 3.3) == 3.3


@pytest.mark.parametrize(("seed", "cut_class"), [(60, "three_stage_trimmed"), (61, "three_stage")])
def test_a_bound_of_another_class_or_job_says_nothing(tmp_path, seed, cut_class):
    _keep(tmp_path, 60, **{"class": "three_stage", "bound": 3.0})
    found = settled_bound("medium", "scarce", seed, cut_class, tmp_path, 2.0)
    assert found != found


def test_both_bounds_have_their_row_and_the_same_bar():
    run = Run(60, 2.0, 1.0, 0.1, 0.94, 0.96, None, None, 0)
    bench = kept_bench("medium", "scarce", "three_stage", "60", "2", [run])
    rows = {figure.claim: (figure.bar, figure.met) for figure in bench.figures}
    assert rows["share of the outside bound, 2 s"] == ("at least 0.95", False)
    settled = rows["share of the closer of it and the settled own bound, 2 s"]
    assert settled == ("at least 0.95", True)


def test_a_proof_that_is_to_settle_never_runs_out_of_time():
    clock = Standing(1e-9)
    clock.start()
    assert not clock.is_over(0)
    assert clock.seconds_left(0) > 3.0


@pytest.mark.parametrize(
    ("regime", "of", "cut_class"),
    [("scarce", "area", "three_stage"), ("ample", "value", "three_stage"),
     ("scarce", "value", "any")],
)  # fmt: skip
def test_a_bound_of_what_its_layouts_are_not_held_to_is_not_kept(
    tmp_path, monkeypatch, regime, of, cut_class
):
    layout = SimpleNamespace(bound=Bound(of, cut_class, 2.0, 0.1))
    job = SimpleNamespace(boards=(), parts=(), shop=None)
    monkeypatch.setattr(place_settled, "cutting_job", lambda *_: job)
    monkeypatch.setattr(place_settled, "solve", lambda *_: layout)
    said = place_settled.settle("medium", regime, 60, "three_stage", 60.0, tmp_path)
    assert "no bound" in said
    assert not list(tmp_path.iterdir())
