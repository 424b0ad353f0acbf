"""The browser's parts: their scripts and styles go out once, under names that follow their text."""

import asyncio
import json

import pytest
from starlette.requests import Request

from ui.browser_part import _address, browser_part_route


@pytest.fixture
def files(tmp_path):
    script, style = tmp_path / "plane.js", tmp_path / "plane.css"
    script.write_text("export default function (component) { return () => {}; }\n")
    style.write_text('p::after { content: "\\2014"; }')
    return script, style


def _ask(address):
    """Return the answer to a browser that asks for an address."""
    route = browser_part_route()
    _, scope = route.matches({"type": "http", "method": "GET", "path": address})
    return asyncio.run(route.endpoint(Request({"type": "http", **scope})))


def test_a_part_comes_as_one_script_with_its_styles_and_is_kept_for_ever(files):
    script, style = files
    given = _ask(_address("plane", (script,), (style,)))
    source = given.body.decode()
    assert given.status_code == 200
    assert given.headers["content-type"].startswith("text/javascript")
    assert "immutable" in given.headers["cache-control"]
    assert f"const partStyle = {json.dumps(style.read_text())};" in source
    # The part's own function is called by the one that is exported.
    assert source.count("export default") == 1
    assert "function drawPart(component)" in source


def test_a_part_that_changed_has_another_address(files, tmp_path):
    script, style = files
    narrower = tmp_path / "narrower.css"
    narrower.write_text(style.read_text() + "p { width: 9em; }")
    assert _address("plane", (script,), (style,)) != _address("plane", (script,), (narrower,))


def test_nothing_but_parts_is_given():
    for name in ("plane.js", "..%2Fbrowser_part.py", "board_view"):
        assert _ask(f"/browser-part/{name}").status_code == 404
