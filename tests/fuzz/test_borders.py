"""A damaged file is read or refused in one sentence, at every border."""

import random
from pathlib import Path

import pytest

from tests.fuzz.attack import attack_apart, damaged, read_or_refuse
from tests.fuzz.borders import BORDERS

FOUND = sorted(path for path in (Path(__file__).parent / "found").iterdir() if path.suffix != ".md")
BY_NAME = {border.name: border for border in BORDERS}
IDS = [border.name for border in BORDERS]
QUICK = [border for border in BORDERS if border.name not in ("jpeg", "png", "heic")]
ALL = [
    pytest.param(border, id=border.name, marks=() if border in QUICK else pytest.mark.slow)
    for border in BORDERS
]


@pytest.mark.parametrize("border", ALL)
def test_undamaged_files_are_read(border, tmp_path):
    seeds = border.seeds()
    if not seeds:
        pytest.skip("BOTHFACES_REAL holds no such file here")
    assert not any(read_or_refuse(border, content, tmp_path) for content in seeds)


@pytest.mark.parametrize("border", QUICK, ids=[border.name for border in QUICK])
def test_damaged_files_are_read_or_refused(border, tmp_path):
    rng = random.Random(f"quick {border.name}")
    seeds = border.seeds()
    refused = sum(read_or_refuse(border, damaged(border, seeds, rng), tmp_path) for _ in range(25))
    assert refused, "no damage was noticed: the border reads anything"


@pytest.mark.slow
@pytest.mark.parametrize("name", IDS)
def test_many_damaged_files_crash_hang_and_hoard_nothing(name):
    if not BY_NAME[name].seeds():
        pytest.skip("BOTHFACES_REAL holds no such file here")
    result = attack_apart(name, seed=7, seconds=2, most=400)
    assert result.tried > 0
    assert [said for _, said in result.faults] == []


@pytest.mark.parametrize("path", FOUND, ids=lambda path: path.name)
def test_files_that_once_crashed_are_refused_or_read(path, tmp_path):
    name = max((n for n in IDS if path.name.startswith(f"{n}-")), key=len)
    read_or_refuse(BY_NAME[name], path.read_bytes(), tmp_path)
