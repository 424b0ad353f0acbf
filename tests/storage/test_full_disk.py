"""A disk that is full in any stage: one sentence, nothing half-written, what was there is there."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.storage.on_full_disk import SIZES

ROOT = Path(__file__).parents[2]
_APART = ["unshare", "-rm"]


def _may_mount() -> bool:
    if shutil.which("unshare") is None:
        return False
    tried = subprocess.run(
        [*_APART, "mount", "-t", "tmpfs", "none", "/mnt"], capture_output=True, check=False
    )
    return tried.returncode == 0


@pytest.fixture(scope="module")
def on_disks() -> dict[str, list[dict]]:
    """What each stage said and left on its small disks, each a file system of its own."""
    # One process: to load the program takes longer than most of the stages.
    ran = subprocess.run(
        [*_APART, sys.executable, "-m", "tests.storage.on_full_disk", *SIZES],
        capture_output=True, text=True, cwd=ROOT, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "200"},
    )  # fmt: skip
    assert ran.returncode == 0, ran.stderr[-3000:]
    answers = [json.loads(line) for line in ran.stdout.splitlines() if line.startswith("{")]
    return {stage: [one for one in answers if one["stage"] == stage] for stage in SIZES}


pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform != "linux" or not _may_mount(), reason="no mount namespace"),
]


@pytest.mark.parametrize("stage", [name for name in SIZES if name != "lot"])
def test_a_full_disk_is_said_in_a_sentence_and_leaves_nothing(on_disks, stage):
    *small, enough = on_disks[stage]
    assert small and enough["code"] == 0, enough
    assert enough["new"] or enough["aside"]
    refused = 0
    for answer in small:
        if answer["code"] == 0:
            continue
        refused += 1
        last = answer["said"].strip().splitlines()[-1]
        assert answer["code"] == 2, answer["said"][-2000:]
        assert "Traceback" not in answer["said"]
        assert "full" in last or "No space left" in last, last
        assert answer["new"] == answer["aside"] == [], answer
    assert refused, "no disk was small enough to be full"


def test_a_lot_on_a_full_disk_keeps_all_that_was_answered_and_goes_on(on_disks):
    *small, enough = on_disks["lot"]
    assert enough["said"] == "" and enough["answered"] == 401
    for answer in small:
        assert "full" in answer["said"], answer
        # Every answered action; the one in the air is not there.
        assert answer["revision"] == answer["answered"]
        # The smallest of the disks hold no second board, whatever room is made.
        assert answer["went_on"] == "done" or (answer["size"] < 160 and "full" in answer["went_on"])
        assert all(answer["pictures"]) and answer["halves"] == []
