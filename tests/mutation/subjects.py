"""The modules that are put to the test, each with the tests that concern it, the quick ones first.

Paths of tests are below ``tests/``.
"""

_JUDGED = ("ground", "cuts", "sets", "totals")


def _judge(nearest: str) -> tuple[str, ...]:
    """Return the tests of the judge, the nearest first: a fault ends at the first that fails."""
    ordered = (nearest, *(name for name in _JUDGED if name != nearest))
    return (*(f"placement/test_judge_{name}.py" for name in ordered), "placement/test_validate.py")


_RULES = ("placement/test_rule_borders.py", "placement/test_rules.py")
SUBJECTS: dict[str, tuple[str, ...]] = {
    "scanner.units": ("test_units.py",),
    "scanner.geometry.frames": ("geometry",),
    "scanner.geometry.lines": ("geometry",),
    "scanner.geometry.polygons": ("geometry", "board/test_join.py"),
    "scanner.geometry.strip_layout": ("geometry",),
    "scanner.geometry.card_codes": ("geometry",),
    "scanner.geometry.marker_codes": ("geometry",),
    "scanner.placement.rules": _RULES,
    "scanner.placement.rules.end_trim": _RULES,
    "scanner.placement.rules.flaws": _RULES,
    "scanner.placement.rules.follow": _RULES,
    "scanner.placement.rules.ground": _RULES,
    "scanner.placement.rules.only_boards": _RULES,
    "scanner.placement.rules.sapwood": _RULES,
    "scanner.placement.rules.species": _RULES,
    "scanner.placement.rules.straight_grain": _RULES,
    "scanner.placement.rules.thickness": _RULES,
    "scanner.placement.rules.wood": _RULES,
    "scanner.placement.validator.cuts": _judge("cuts"),
    "scanner.placement.validator.dropped": _judge("totals"),
    "scanner.placement.validator.ground": _judge("ground"),
    "scanner.placement.validator.judge": _judge("totals"),
    "scanner.placement.validator.limits": _judge("ground"),
    "scanner.placement.validator.nests": ("placement/test_judge_nests.py",),
    "scanner.placement.validator.objection": _judge("totals"),
    "scanner.placement.validator.sets": _judge("sets"),
    "scanner.placement.validator.sizes": _judge("sets"),
    "scanner.placement.validator.slices": _judge("sets"),
    "scanner.placement.validator.staves": _judge("sets"),
    "scanner.placement.validator.turn": _judge("sets"),
}
