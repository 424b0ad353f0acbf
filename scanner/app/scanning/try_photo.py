"""The errand "try a photo": will it do, and what would be better."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scanner.board.measured import Measured
from scanner.errors import UnfitPhotoError
from scanner.files.json_text import json_text
from scanner.files.typed import read_rule, refuse_other_units
from scanner.files.write import refuse_given, refuse_unwritable, write_files

if TYPE_CHECKING:
    from pathlib import Path

    from scanner.vision.trial import Trial

# Nobody has typed the board's thickness yet: 4/4, give or take a quarter.
_THICKNESS = Measured(27.0, 6.0)


def try_photo(
    photo: Path, rule: str | None = None, output: Path | None = None, units: str = "mm"
) -> Trial:
    """Return what a look at a photo tells; write it as JSON where a file is named.

    Parameters
    ----------
    rule
        Length (and width, thickness) of a plain rule as typed; None: a coded strip lies there.

    Raises
    ------
    ScannerError
        The file is no photo, or the rule's size cannot be read. A photo without a usable rule, a
        preview or a panorama is no error but the answer.
    """
    from scanner.vision.photos.photo import read_photo
    from scanner.vision.setup import Setup
    from scanner.vision.trial import Trial, try_out

    refuse_other_units(units)
    size = read_rule(rule, "--rule", units) if rule else None
    if output is not None:
        refuse_given(output, photo, ending=".json", holds=("rule", "tilt_deg", "advice"))
        refuse_unwritable(output.parent)
    try:
        trial = try_out(read_photo(photo), Setup(thickness=_THICKNESS, rule=size))
    except UnfitPhotoError as refusal:
        advice = f"{refusal.mend[:1].upper()}{refusal.mend[1:]}."
        trial = Trial(None, None, (advice,), str(refusal))
    if output is not None:
        write_files(output.parent, {output.name: json_text(_record(trial)).encode()})
    return trial


def trial_lines(trial: Trial) -> tuple[str, ...]:
    """Return the answer for a person, a line each."""
    lines = [trial.verdict]
    if trial.rule is not None:
        first, middle, last = trial.rule.mm_per_px
        what = "coded strip" if trial.rule.kind == "strip" else "plain rule"
        lines.append(
            f"{what} of {trial.rule.length_mm:.0f} mm; the smallest thing seen is {first:.1f} mm "
            f"at its zero end, {middle:.1f} mm in its middle, {last:.1f} mm at its other end; "
            f"phone tilted {trial.tilt_deg:.0f} degrees from straight above"
        )
    # What a refusal says to do stands in its own sentence already.
    rest = trial.advice[1:] if trial.refusal else trial.advice
    return (*lines, *(f"  - {one}" for one in rest))


def _record(trial: Trial) -> dict[str, object]:
    rule = trial.rule
    found = rule and {
        "kind": rule.kind,
        "corners": [list(corner) for corner in rule.corners],
        "mm_per_px": list(rule.mm_per_px),
        "u_rel": rule.u_rel,
    }
    return {"rule": found, "tilt_deg": trial.tilt_deg, "advice": list(trial.advice)}
