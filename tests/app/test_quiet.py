"""What a library prints past Python is no part of a command's answer."""

import ctypes
import os

import pytest

from scanner.cli.quiet import libraries_quiet

pytestmark = pytest.mark.skipif(os.name != "posix", reason="its C library is asked to print")


def _as_a_library_does(words):
    ctypes.CDLL(None).puts(words.encode())


def _flush():
    ctypes.CDLL(None).fflush(None)


def test_what_a_library_prints_at_its_work_is_not_shown_and_what_comes_after_is(capfd):
    print("placing")
    with libraries_quiet():
        _as_a_library_does("solution repaired")
    print("40 of 40 parts placed")
    _as_a_library_does("heard again")
    _flush()
    assert capfd.readouterr().out.split("\n")[:2] == ["placing", "40 of 40 parts placed"]


def test_the_terminal_is_heard_again_after_a_refusal(capfd):
    with pytest.raises(ValueError, match="no parts"), libraries_quiet():
        _as_a_library_does("solution repaired")
        raise ValueError("no parts")
    _as_a_library_does("heard again")
    _flush()
    assert capfd.readouterr().out == "heard again\n"


def test_a_command_works_for_a_program_that_closed_its_output(monkeypatch):
    # Python has no stream there then.
    monkeypatch.setattr("sys.stdout", None)
    with libraries_quiet():
        worked = True
    assert worked
