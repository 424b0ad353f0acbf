"""A lot survives its writer being killed: no action that was answered is lost."""

import multiprocessing
import os
import random
import time
from dataclasses import replace
from pathlib import Path

import pytest

from scanner.storage.journal import Stamp
from scanner.storage.lots import Action, open_lot
from tests import common
from tests.storage.said import stamp

_MOMENTS = 200
_MOST_BEFORE = 3
_PICTURE = 5000
_PATIENCE_S = 240


def _write(path, run, told):
    """Score the board's flaws again and again, and say each answered score; until killed."""
    lot = open_lot(Path(path))
    told.send("open")
    for number in range(100000):
        score = run * 1e6 + number

        def change(board, score=score):
            return board.with_flaws(tuple(replace(flaw, score=score) for flaw in board.flaws))

        operation = f"{run}-{number}"
        answer = lot.record(Action(Stamp(operation, 10**6, "writer"), "B01", "scored", change))
        if number % 5 == 0:
            lot.keep_picture(operation.encode() * _PICTURE, "face.jpg")
        assert answer.status == "done", answer
        told.send((operation, score))


def _killed(context, path, run, moments):
    """Start a writer, kill it at some moment, and return what it said was answered."""
    ours, theirs = context.Pipe(duplex=False)
    writer = context.Process(target=_write, args=(str(path), run, theirs))
    writer.start()
    theirs.close()
    assert ours.poll(_PATIENCE_S) and ours.recv() == "open"
    begun = time.monotonic()
    told = []
    for _ in range(moments.randint(1, _MOST_BEFORE)):
        assert ours.poll(_PATIENCE_S)
        told.append(ours.recv())
    # Anywhere in the next two actions, however slow the disk is.
    time.sleep(moments.uniform(0.0, 2.0) * (time.monotonic() - begun) / len(told))
    # The signal that no program can answer: kill -9.
    writer.kill()
    writer.join(_PATIENCE_S)
    try:
        while True:
            told.append(ours.recv())
    except (EOFError, OSError):
        return told


def _survives(context, path, run, moments):
    told = _killed(context, path, run, moments)
    lot = open_lot(path)
    try:
        rows = lot._connection.execute("SELECT operation FROM journal").fetchall()
        assert {operation for operation, _ in told} <= {row[0] for row in rows}
        # The one in the air when the kill came may have been kept too.
        assert lot.board("B01").flaws[0].score in (told[-1][1], told[-1][1] + 1)
        for file in lot.folder.glob("[0-9a-f]*.jpg"):
            assert file.stat().st_size % _PICTURE == 0
    finally:
        lot.close()


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="kill -9 is a habit of other systems")
def test_no_answered_action_is_lost_at_200_moments_at_which_the_writer_is_killed(tmp_path):
    path = tmp_path / "bench.lot"
    lot = open_lot(path)
    lot.save_board(common.ash_board(), stamp())
    lot.close()
    # A server with the modules loaded forks each writer: an interpreter anew takes a second.
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([__name__])
    moments = random.Random(11)
    for run in range(1, _MOMENTS + 1):
        _survives(context, path, run, moments)
