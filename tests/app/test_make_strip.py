"""The strip's PDF: where it may be written, and under which names."""

import pytest

from scanner.app.scanning.make_strip import make_strip
from scanner.errors import FileError


def test_a_folder_that_is_missing_is_made(tmp_path):
    """It was refused as a file that cannot be written, where every folder of sheets is made."""
    path = tmp_path / "print" / "strips" / "strip.pdf"
    make_strip("500 mm", "a4", path)
    assert path.read_bytes().startswith(b"%PDF")


def test_a_pdf_gets_no_name_of_a_picture_and_a_point_in_a_name_is_no_ending(tmp_path):
    with pytest.raises(FileError, match=r"strip\.png is no name for a \.pdf file: choose a name"):
        make_strip("500 mm", "a4", tmp_path / "strip.png")
    assert not list(tmp_path.iterdir())
    make_strip("500 mm", "a4", tmp_path / "strip-0.5m")
    assert (tmp_path / "strip-0.5m").read_bytes().startswith(b"%PDF")
