"""All files or none."""

import errno
import os
from pathlib import Path

import pytest

from scanner.errors import FileError
from scanner.files import write
from scanner.files.write import refuse_given, refuse_unwritable, write_files


def everything_in(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def test_files_and_their_folders_are_written(tmp_path):
    write_files(tmp_path / "out", {"layout.json": b"{}", "B01/board.json": b"[]"})
    assert everything_in(tmp_path) == ["out", "out/B01", "out/B01/board.json", "out/layout.json"]


def test_what_was_there_is_replaced(tmp_path):
    (tmp_path / "a.txt").write_bytes(b"old")
    write_files(tmp_path, {"a.txt": b"new"})
    assert (tmp_path / "a.txt").read_bytes() == b"new"
    assert everything_in(tmp_path) == ["a.txt"]


def test_a_full_disk_leaves_the_old_files_and_nothing_else(tmp_path, monkeypatch):
    (tmp_path / "a.txt").write_bytes(b"old")
    real = write._write_through

    def fill_up(path: Path, content: bytes) -> None:
        if "b.txt" in path.name:
            path.write_bytes(content[:1])
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(path, content)

    monkeypatch.setattr(write, "_write_through", fill_up)
    with pytest.raises(FileError, match="the disk is full") as caught:
        write_files(tmp_path, {"a.txt": b"new", "sub/b.txt": b"new"})
    assert "b.txt" in str(caught.value)
    assert everything_in(tmp_path) == ["a.txt"]
    assert (tmp_path / "a.txt").read_bytes() == b"old"


def test_a_rename_that_fails_puts_the_former_files_back(tmp_path, monkeypatch):
    (tmp_path / "a.txt").write_bytes(b"old")
    real = Path.replace

    def fail_second(self, target):
        if str(self).endswith(".new") and Path(target).name == "b.txt":
            raise OSError(errno.EIO, "input/output error")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", fail_second)
    with pytest.raises(FileError, match="was not written"):
        write_files(tmp_path, {"a.txt": b"new", "b.txt": b"new"})
    monkeypatch.undo()
    assert everything_in(tmp_path) == ["a.txt"]
    assert (tmp_path / "a.txt").read_bytes() == b"old"


def test_a_folder_in_the_way_of_a_file_is_told(tmp_path):
    (tmp_path / "layout.json").mkdir()
    with pytest.raises(FileError, match="is a folder"):
        write_files(tmp_path, {"a.txt": b"1", "layout.json": b"{}"})
    assert everything_in(tmp_path) == ["layout.json"]


def test_a_file_in_the_way_of_a_folder_is_told(tmp_path):
    (tmp_path / "out").write_bytes(b"a file")
    with pytest.raises(FileError, match="is a file, not a folder"):
        write_files(tmp_path / "out", {"a.txt": b"1"})
    with pytest.raises(FileError, match="is a file, not a folder"):
        refuse_unwritable(tmp_path / "out" / "deeper")


def test_no_permission_is_told_before_the_slow_work(tmp_path, monkeypatch):
    def forbid(**_):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(write.tempfile, "TemporaryFile", forbid)
    with pytest.raises(FileError, match="may not be written"):
        refuse_unwritable(tmp_path)


def test_a_writable_place_is_let_pass_without_a_trace(tmp_path):
    refuse_unwritable(tmp_path / "new" / "folder")
    assert everything_in(tmp_path) == []


@pytest.mark.parametrize("name", ["/etc/passwd", "../up.txt", ""])
def test_a_name_that_leaves_the_folder_is_a_programmer_s_mistake(name, tmp_path):
    with pytest.raises(ValueError):
        write_files(tmp_path, {name: b"x"})


@pytest.mark.parametrize(
    ("name", "text", "holds", "ours"),
    [
        ("a.json", '{"along": "x", "flaws": []}', ("along", "flaws"), True),
        ("a.json", '{"format": "board", "flaws": []}', ("along", "flaws"), False),
        ("a.json", "not json", ("along",), False),
        ("a.csv", "\ufeffID;length;price\nB01;2;3\n", ("id", "length"), True),
        ("a.csv", "name,quantity,length\nleg,4,600\n", ("id", "length"), False),
        ("a.csv", "", ("id",), False),
    ],
)
def test_a_file_of_the_ending_that_holds_something_else_is_not_written_over(
    name, text, holds, ours, tmp_path
):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    if ours:
        refuse_given(path, ending=path.suffix, holds=holds)
    else:
        with pytest.raises(FileError, match="is there already and holds something else"):
            refuse_given(path, ending=path.suffix, holds=holds)
    refuse_given(path.with_stem("new"), ending=path.suffix, holds=holds)
