"""The judge of layouts shares nothing with what made them, whatever modules may come."""

import ast
from pathlib import Path

from scanner.placement import validator

# What a layout, a part and a shop are: values that both must mean the same by.
VALUES = {"layout", "parts", "shop"}


def test_of_placement_the_judge_takes_only_what_a_layout_a_part_and_a_shop_are():
    taken = set()
    for file in Path(validator.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                taken.add(node.module or "")
            elif isinstance(node, ast.Import):
                taken |= {name.name for name in node.names}
    own = "scanner.placement."
    others = {name.removeprefix(own).split(".")[0] for name in taken if name.startswith(own)}
    assert others - {"validator"} == VALUES
    assert "scanner.placement" not in taken
