"""The scripts of one of the browser's parts become one text: each name in it is declared once."""

import re
from collections import Counter
from importlib import import_module
from pathlib import Path

import pytest

import ui

_DECLARED = re.compile(r"^(?:async )?(?:function\*?|const|let|class) +([A-Za-z_$][\w$]*)", re.M)
_PARTS = [
    pytest.param(scripts, id=f"{file.parent.name}{name}")
    for file in sorted(Path(ui.__file__).parent.glob("*/component.py"))
    for name, scripts in vars(import_module(f"ui.{file.parent.name}.component")).items()
    if name.endswith("_SCRIPTS")
]


@pytest.mark.parametrize("scripts", _PARTS)
def test_no_name_is_declared_twice_in_a_part(scripts):
    """A second one is a fault of syntax: the browser draws nothing of that part."""
    declared = Counter(
        name for script in scripts for name in _DECLARED.findall(script.read_text("utf-8"))
    )
    assert declared
    assert [name for name, times in declared.items() if times > 1] == []
