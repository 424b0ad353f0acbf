"""Long reasons are laid out so that they can be read."""

from ui.missing import missing_lines


def test_a_reason_stands_above_what_comes_nearest():
    said = (
        "1 × back rail not placed: no board is sound over 787 x 76 mm (B05 has 749 x 75 mm; fits "
        "B05 with 6 mm of its 12 mm width allowance (width_allowance); or turned)",
        "2 × top_2 not placed: no board of cherry",
        "something else",
    )
    first, *rest = [line.replace("\\", "").replace("\u00a0", " ") for line in missing_lines(said)]
    assert first == "- **1 × back rail not placed**: no board is sound over 787 × 76 mm"
    assert rest[:3] == [
        "  - B05 has 749 × 75 mm",
        "  - fits B05 with 6 mm of its 12 mm width allowance",
        "  - turned",
    ]
    assert rest[3:] == ["- **2 × top_2 not placed**: no board of cherry", "- something else"]
