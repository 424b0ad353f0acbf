"""The page run without a browser: how tests open it, tap on it and read it."""

import io
import json
from functools import cache
from pathlib import Path

import pytest
from PIL import Image
from streamlit.components.v2 import manifest_scanner
from streamlit.testing.v1 import AppTest

import ui
from tests.ui.made_results import write_results
from ui import apart, desks, looks, place
from ui.place import sample_lot

MAIN = Path(ui.__file__).with_name("main.py")
PATIENCE_S = 240
# Streamlit reads about all installed packages whenever a page starts: once is enough here.
_find_components = cache(manifest_scanner.scan_component_manifests)


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv(place.HOME_VARIABLE, str(tmp_path))
    monkeypatch.delenv(place.LOT_VARIABLE, raising=False)
    monkeypatch.setattr(manifest_scanner, "scan_component_manifests", _find_components)
    # Placing the parts is the browser test's errand; here no worker is started.
    monkeypatch.setattr(desks.Desk, "place_again", lambda desk, seconds=0: None)
    monkeypatch.setattr(desks, "QUIET_S", 1e9)
    # Scans run in the page's own process here: the tests put a scan of their own in their place.
    monkeypatch.setattr(
        apart,
        "work_apart",
        lambda errand, path, *given, progress: errand(desks.desk_of(path).lot, *given, progress),
    )
    # So is looking at photos: tests/ui/test_photo_pairs.py says what they look like.
    monkeypatch.setattr(looks.Looks, "_want", lambda looks, key, photo: None)
    return tmp_path


def page_at(home, **parameters):
    page = AppTest.from_file(str(MAIN), default_timeout=PATIENCE_S)
    for name, value in parameters.items():
        page.query_params[name] = value
    return page.run()


def sent_to(page, name="board"):
    """Return the data that the board view (or the road: ``steps``) was given."""
    all_sent = [json.loads(one.proto.json)[0] for one in page.get("bidi_component")]
    return next(sent for sent in all_sent if name in sent)


def go_to(page, step):
    return page.switch_page(f"views/{step}.py").run()


def road_of(page):
    return {step["name"]: (step["state"], step["note"]) for step in sent_to(page, "steps")["steps"]}


def button_of(page, label):
    return next(button for button in page.button if button.label == label)


def words_of(page):
    # What came from files is escaped for Markdown.
    return " ".join(_read(element.value) for element in page.markdown)


def _read(value):
    """Return words as they are read: without escapes, and with plain spaces in sizes."""
    return value.replace("\\", "").replace("\u00a0", " ")


@pytest.fixture
def sample(home):
    write_results(home / "out" / "demo")
    page = page_at(home)
    return button_of(page, "Open the sample lot").click().run()


def errors_of(page):
    """Return what went wrong as it is read, without the marks that keep Markdown from it."""
    return [_read(error.value) for error in page.error]


def begun(home, name):
    page = page_at(home)
    page.text_input[0].set_value(name)
    return button_of(page, "Begin the lot").click().run()


def look_over_everything(page):
    lot = desks.desk_of(sample_lot()).lot
    ops = [
        {"id": f"window-a-{face}", "client": "window-a", "base": lot.revision,
         "verb": "look_over", "board": "B01", "face": face}
        for face in (1, 2)
    ]  # fmt: skip
    page.session_state["board-view"] = {"outbox": {"n": "1", "ops": ops}}
    page.run()


def choose_photos(page, *names):
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), (150, 120, 90)).save(picture, "JPEG")
    page.file_uploader[0].set_value([(name, picture.getvalue(), "image/jpeg") for name in names])
    return page.run()
