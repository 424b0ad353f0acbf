"""A problem stays the same problem on its way between processes."""

import errno
import os
import pickle
import sys

import pytest

from scanner.cli.run import main as command
from scanner.errors import LotError, PhotoError, ScannerError


@pytest.mark.parametrize("kind", [ScannerError, PhotoError, LotError])
def test_a_problem_survives_the_way_from_another_process(kind):
    problem = pickle.loads(pickle.dumps(kind("a.jpg shows no rule", "lay one beside the board")))
    assert type(problem) is kind
    assert str(problem) == "a.jpg shows no rule: lay one beside the board."
    assert (problem.what, problem.mend) == ("a.jpg shows no rule", "lay one beside the board")


def test_a_disk_that_fills_up_under_a_temporary_file_is_said_plainly(capsys, monkeypatch):
    def fill_up(**given):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("scanner.cli.run.app", fill_up)
    with pytest.raises(SystemExit) as stop:
        command()
    assert stop.value.code == 2
    assert capsys.readouterr().err.startswith("the disk is full")


def test_another_fault_of_the_system_is_not_called_a_full_disk(monkeypatch):
    def fail(**given):
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr("scanner.cli.run.app", fail)
    with pytest.raises(OSError, match="error"):
        command()


def test_a_reader_that_has_gone_is_no_bug(monkeypatch):
    def go(*given, **more):
        raise BrokenPipeError(errno.EPIPE, os.strerror(errno.EPIPE))

    monkeypatch.setattr(sys, "argv", ["bothfaces", "schema", "board"])
    monkeypatch.setattr("scanner.app.print_schema.schema_of", go)
    for stream in ("stdout", "stderr"):
        # Typer covers both; what stands here is put back at the end.
        monkeypatch.setattr(sys, stream, getattr(sys, stream))
    with pytest.raises(SystemExit) as stop:
        command()
    # The signal's number and 128, as shells say it.
    assert stop.value.code == 141
