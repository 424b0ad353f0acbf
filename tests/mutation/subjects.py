"""The modules that are put to the test, each with the tests that concern it, the quick ones first.

Paths of tests are below ``tests/``.
"""

_PLACED = (
    "placement/test_judge_ground.py",
    "placement/test_judge_cuts.py",
    "placement/test_judge_sets.py",
    "placement/test_judge_totals.py",
    "placement/test_validate.py",
)
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
    "scanner.placement.validator.cuts": _PLACED,
    "scanner.placement.validator.dropped": _PLACED,
    "scanner.placement.validator.ground": _PLACED,
    "scanner.placement.validator.judge": _PLACED,
    "scanner.placement.validator.sets": _PLACED,
    "scanner.placement.validator.sizes": _PLACED,
    "scanner.placement.validator.slices": _PLACED,
    "scanner.placement.validator.staves": _PLACED,
    "scanner.placement.validator.turn": _PLACED,
}
