"""What is claimed and how it is known: PROOF.md and README's figures from what benches kept.

``python -m tests.bench.proof --take`` takes the figures of new runs from ``out/bench/figures``;
without it the documents are written again from the figures that are committed.
"""

from __future__ import annotations

import argparse
import re
import shutil
from pathlib import Path

from tests.bench.figures import NEW, Bench, read

HERE = Path(__file__).parent
KEPT = HERE / "figures_kept"
PROOF = HERE / "PROOF.md"
README = HERE.parents[1] / "README.md"
START, STOP = "<!-- figures: written by make proof -->", "<!-- end of figures -->"
# In the order of a board's way; what is not named comes last.
ORDER = ("floor-strip", "floor-two", "floor-taped", "floor-plain", "road", "road-two-photos",
         "scale", "outlines", "flaws", "real", "strips", "taps", "speed", "place-medium-scarce",
         "place-medium-ample", "place-large-scarce", "place-large-ample", "page")  # fmt: skip

MOST_ROWS = 10  # of one bench in README, which is read by people at a wood pile


def kept_benches(folder: Path = KEPT) -> list[Bench]:
    """Return the committed figures in reading order."""
    benches = [read(path) for path in folder.glob("*.json")]
    place = {name: n for n, name in enumerate(ORDER)}
    return sorted(benches, key=lambda bench: (place.get(bench.name, len(ORDER)), bench.name))


def proof_text(benches: list[Bench]) -> str:
    """Return PROOF.md: a table for each bench, with data, command, commit and machine."""
    lines = [
        "# What is claimed, and how it is known",
        "",
        "Written by `make proof` from the figures that each bench kept; not edited by hand. Every",
        "figure is of pictures, scenes or jobs that nothing was tuned on. In brackets: 95 %",
        "intervals (Wilson for shares, bootstrap over boards for means). Within chance: not met,",
        "but the bar lies inside the figure's own interval.",
    ]
    for bench in benches:
        lines += ["", f"## {bench.title}", "", f"Data: {bench.data}. Command: `{bench.command}`."]
        lines += [f"Commit {bench.commit}, {bench.date}, {bench.machine}.", ""]
        lines += ["| claim | figure | bar | met |", "|---|---|---|---|"]
        for row in bench.figures:
            lines.append(f"| {row.claim} | {row.figure} | {row.bar} | {row.verdict} |")
    return "\n".join(lines) + "\n"


def readme_block(benches: list[Bench]) -> str:
    """Return README's table between its marks: what has a bar, met or not; the rest is in PROOF.

    Of a bench with many rows every bar that is not met is shown, and the met ones are counted.
    """
    lines = [START, "", "| what | measured | aimed at | met |", "|---|---|---|---|"]
    for bench in benches:
        barred = [row for row in bench.figures if row.bar and row.met is not None]
        if barred:
            lines.append(f"| **{bench.title}** | | | |")
        is_long = len(barred) > MOST_ROWS
        for row in barred:
            if not (is_long and row.met):
                # Counts by kind are for PROOF.md.
                figure = re.sub(r" \{.*?\}", "", row.figure)
                lines.append(f"| {row.claim} | {figure} | {row.bar} | {row.verdict} |")
        if is_long:
            met_rows = sum(bool(row.met) for row in barred)
            lines.append(f"| {met_rows} more rows of {len(barred)} | see PROOF.md | | yes |")
    return "\n".join([*lines, "", STOP])


def with_block(readme: str, block: str) -> str:
    """Return README's text with its figures replaced."""
    before, _, rest = readme.partition(START)
    _, _, after = rest.partition(STOP)
    return f"{before}{block}{after}"


def main() -> None:
    """Write PROOF.md and README's figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--take", nargs="*", help="names of benches; none: all that ran anew")
    taken = parser.parse_args().take
    if taken is not None:
        KEPT.mkdir(exist_ok=True)
        for path in sorted(NEW.glob("*.json")):
            if not taken or path.stem in taken:
                shutil.copyfile(path, KEPT / path.name)
                print(f"taken: {path.stem}")
    benches = kept_benches()
    PROOF.write_text(proof_text(benches), encoding="utf-8")
    README.write_text(
        with_block(README.read_text(encoding="utf-8"), readme_block(benches)), encoding="utf-8"
    )


if __name__ == "__main__":
    main()
