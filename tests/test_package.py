"""What a stranger installs holds all that runs."""

import tomllib
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SETUP = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]
NOT_PACKED = {".py", ".pyc", ".nbi", ".nbc"}


@pytest.mark.parametrize("package", ["scanner", "ui"])
def test_every_file_beside_the_code_travels_in_the_wheel(package):
    beside = [
        path.relative_to(ROOT / package).as_posix()
        for path in (ROOT / package).rglob("*")
        if path.is_file() and path.suffix not in NOT_PACKED
    ]
    assert beside
    patterns = SETUP["package-data"][package]
    assert [name for name in beside if not any(fnmatch(name, one) for one in patterns)] == []


def test_the_sample_pictures_and_the_guides_travel_in_the_wheel():
    share = SETUP["data-files"]
    assert share["share/bothfaces/sample_images"] == ["sample_images/*"]
    patterns = share["share/bothfaces/docs"]
    # docs/pages, the pictures of every page, is for who reads the source: no page shows it.
    beside = [f"docs/{path.name}" for path in (ROOT / "docs").iterdir() if path.is_file()]
    assert [name for name in beside if not any(fnmatch(name, one) for one in patterns)] == []
