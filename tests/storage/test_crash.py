"""A lot survives its writer being killed: no action that was answered is lost."""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from scanner.storage.lots import open_lot
from tests import common
from tests.storage.test_lots import stamp

_ROOT = Path(__file__).parents[2]
_WRITER = """
import sys
from dataclasses import replace
from pathlib import Path
from scanner.board.flaw import FlawState
from scanner.storage.journal import Stamp
from scanner.storage.lots import Action, open_lot

lot = open_lot(Path(sys.argv[1]))
print("open", flush=True)
for number in range(100000):
    score = float(sys.argv[2]) * 1e6 + number
    def change(board, score=score):
        return board.with_flaws(tuple(replace(f, score=score) for f in board.flaws))
    operation = f"{sys.argv[2]}-{number}"
    answer = lot.record(Action(Stamp(operation, 10**6, "writer"), "B01", "scored", change))
    lot.keep_picture(operation.encode() * 5000, "face.jpg")
    assert answer.status == "done", answer
    print(operation, score, flush=True)
"""


def _killed_after(path, run, seconds):
    """Start a writer, kill it, and return the last operation it reported and its score."""
    with subprocess.Popen(
        [sys.executable, "-c", _WRITER, str(path), str(run + 1)],
        stdout=subprocess.PIPE, text=True, cwd=_ROOT,
    ) as writer:  # fmt: skip
        assert writer.stdout is not None
        assert writer.stdout.readline() == "open\n"
        time.sleep(seconds)
        os.kill(writer.pid, signal.SIGKILL)
        told = [line.split() for line in writer.stdout.read().splitlines()]
        writer.wait()
    return [(line[0], float(line[1])) for line in told if len(line) == 2]


def _survives(path, run, seconds):
    told = _killed_after(path, run, seconds)
    lot = open_lot(path)
    try:
        rows = lot._connection.execute("SELECT operation FROM journal").fetchall()
        assert {operation for operation, _ in told} <= {row[0] for row in rows}
        if told:
            # The one in the air when the kill came may have been kept too.
            assert lot.board("B01").flaws[0].score in (told[-1][1], told[-1][1] + 1)
        for file in lot.folder.glob("[0-9a-f]*.jpg"):
            assert file.stat().st_size % 5000 == 0
    finally:
        lot.close()
    return len(told)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="kill -9 is a habit of other systems")
def test_no_answered_action_is_lost_when_the_writer_is_killed(tmp_path):
    path = tmp_path / "bench.lot"
    lot = open_lot(path)
    lot.save_board(common.ash_board(), stamp())
    lot.close()
    moments = random.Random(11)
    kept = [_survives(path, run, moments.uniform(0.0, 0.4)) for run in range(12)]
    assert sum(kept) > 20
