"""README and PROOF.md say what was measured, and nothing else."""

from tests.bench.figures import Bench, Figure, mean_text, share_text
from tests.bench.proof import (
    MOST_ROWS,
    PROOF,
    README,
    kept_benches,
    proof_text,
    readme_block,
    with_block,
)


def test_proof_and_readme_show_the_figures_that_were_kept():
    benches = kept_benches()
    assert benches
    assert PROOF.read_text(encoding="utf-8") == proof_text(benches)
    assert readme_block(benches) in README.read_text(encoding="utf-8")


def test_every_figure_tells_its_data_command_commit_and_machine():
    for bench in kept_benches():
        assert all((bench.data, bench.command, bench.commit, bench.date, bench.machine))
        assert bench.figures


def test_new_figures_take_the_place_of_old_ones_and_nothing_else():
    old, new = (
        readme_block([Bench("b", "B", "d", "make b", (Figure("length", text, "4 mm", True),))])
        for text in ("3 mm", "2 mm")
    )
    assert with_block(f"before\n{old}\nafter\n", new) == f"before\n{new}\nafter\n"


def test_a_long_bench_shows_every_missed_bar_in_readme_and_counts_the_met_ones():
    met = [Figure(f"met {n}", "3 mm", "4 mm", True) for n in range(MOST_ROWS)]
    block = readme_block([Bench("b", "B", "d", "c", (*met, Figure("late", "5 mm", "4 mm", False)))])
    assert "| late | 5 mm | 4 mm | **no** |" in block
    assert f"{MOST_ROWS} more rows of {MOST_ROWS + 1}" in block
    assert "met 3" not in block


def test_a_share_is_told_with_wilsons_interval():
    # Worked example: 81 of 263 gives 0.255 to 0.366 (R. G. Newcombe, Statistics in
    # Medicine 17, 1998; from memory).
    assert share_text(81, 263) == "81 of 263 (30.8 %; 26 to 37)"


def test_a_share_that_misses_its_bar_never_reads_as_one_that_meets_it():
    for hits, of, told in (
        (236, 239, "98.7 %"),
        (9896, 10_000, "98.96 %"),
        (1999, 2000, "99.95 %"),
        (249_999, 250_000, "99.9996 %"),
        (237, 239, "99 %"),
        (239, 239, "100 %"),
        (0, 0, "0 %"),
    ):
        assert f"({told};" in share_text(hits, of)


def test_a_mean_of_equal_values_has_no_spread():
    assert mean_text([2.0, 2.0, 2.0]) == "2.00 (2.00 to 2.00)"
