"""Faults that change nothing anybody could see, each with the argument why."""

from pathlib import Path

from tests.mutation.changes import Mutant

# (module, the line's text, the change): why no input tells it from the code as it is.
EQUIVALENT: dict[tuple[str, str, str], str] = {
    ("scanner.units", "terms += 1", "Add to Sub="): "only asked whether it is zero; -1 is not",
    ("scanner.units", "terms += 1", "1 to 2"): "only asked whether it is zero; 2 is not",
    (
        "scanner.units",
        "quarters = int(match.group(1)) if match else 0",
        "0 to 1",
    ): "what is below 2 is no thickness class, whether 0 or 1",
    (
        "scanner.units",
        'sign = "-" if length_mm < 0 and sixteenths else ""',
        "Lt to LtE",
    ): "a length of 0 has no sixteenths, and the sign asks for them too",
    **{
        ("scanner.placement.rules.end_trim", line, change): (
            "moves the ground's rim outside of the wood, which the board's edge forbids anyway"
        )
        for line in (
            "box(x0 - 1, y0 - 1, wood.bounds[0] + reach, y1 + 1)",
            "else box(wood.bounds[2] - reach, y0 - 1, x1 + 1, y1 + 1)",
        )
        for change in ("1 to 2",)
    },
    (
        "scanner.placement.rules.wood",
        "_AROUND_MM = 60.0",
        "60.0 to 90.0",
    ): "ground further out than any place a part is tried at",
    **{
        (module, "return False", "returns None"): "only asked whether it is true"
        for module in ("scanner.placement.rules.flaws", "scanner.placement.validator.ground")
    },
    (
        "scanner.placement.validator.staves",
        "numbers = sorted(p.stave or 0 for p in own)",
        "0 to 1",
    ): "a panel of which a part has no number is answered before",
    (
        "scanner.geometry.polygons",
        "if candidate.area > best.area:",
        "Gt to GtE",
    ): "of two pieces of one size either is the largest",
}


def source_of(module: str) -> str:
    """Return a module's own text."""
    path = Path(__file__).parents[2].joinpath(*module.split("."))
    path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    return path.read_text(encoding="utf-8")


def is_equivalent(module: str, mutant: Mutant) -> bool:
    """Whether a fault is argued to be none."""
    return (module, mutant.text, mutant.change) in EQUIVALENT
