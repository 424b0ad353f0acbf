"""A browser is known again, and a window loaded anew goes on with what was given last."""

from types import SimpleNamespace

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import HTMLResponse, PlainTextResponse
from starlette.routing import Route

from tests.ui.asked import asked
from ui import visits
from ui.visits import NameBrowsers, given, keep_chosen, keep_given


@pytest.fixture
def window(monkeypatch):
    monkeypatch.setattr(visits, "_last", type(visits._last)())

    def open_window(browser):
        context = SimpleNamespace(cookies={"bothfaces_visit": browser} if browser else {})
        return SimpleNamespace(session_state={}, context=context)

    def look_at(one):
        monkeypatch.setattr(visits, "st", one)
        return one

    return lambda browser: look_at(open_window(browser)), look_at


_PHONE, _DESK = "p" * 22, "d" * 22


def test_a_window_loaded_anew_goes_on_with_what_was_given_last(window):
    new, look_at = window
    first = new(_PHONE)
    given().typed["hall bench/length"] = "8 ft"
    given().ever["hall bench/photos"] = {"front"}
    keep_given()
    # What the field gives in the same run, after it was said to be kept.
    given().chosen["hall bench/photos"] = ([], ["front"])
    new(_PHONE)
    assert given().typed == {"hall bench/length": "8 ft"}
    assert given().chosen == {"hall bench/photos": ([], ["front"])}
    # Two windows side by side do not write into each other.
    given().typed["hall bench/length"] = "9 ft"
    given().ever["hall bench/photos"].add("back")
    look_at(first)
    assert given().typed == {"hall bench/length": "8 ft"}
    assert given().ever == {"hall bench/photos": {"front"}}


@pytest.mark.parametrize("other", [_DESK, "", "../../x"])
def test_another_browser_is_not_shown_what_this_one_was_given(window, other):
    new, _ = window
    new(_PHONE)
    given().typed["hall bench/length"] = "8 ft"
    keep_given()
    new(other)
    assert given().typed == {}


def test_only_the_few_browsers_of_a_shop_are_remembered(window):
    new, _ = window
    for number in range(visits._MOST_BROWSERS + 1):
        new(f"{number:022d}")
        given().typed["hall bench/length"] = "8 ft"
        keep_given()
    new(f"{0:022d}")
    assert given().typed == {}
    new(f"{1:022d}")
    assert given().typed != {}


def _photo(name, size):
    return SimpleNamespace(file_id=name, size=size)


def test_photos_that_outlast_their_windows_take_no_more_memory_than_there_is_room_for(
    window, monkeypatch
):
    new, look_at = window
    monkeypatch.setattr(visits, "_MOST_PHOTO_BYTES", 100)
    desk = new(_DESK)
    given().typed["hall bench/length"] = "8 ft"
    keep_given()
    # What a field lost stands among what it gives: one photo, counted once.
    keep_chosen("hall bench/photos", [_photo("front", 60)], [_photo("front", 60)])
    new(_DESK)
    assert given().chosen
    new(_PHONE)
    keep_given()
    keep_chosen("hall bench/photos", [], [_photo("back", 40)])
    new(_DESK)
    assert given().chosen
    # The phone's one photo more: the desk's, chosen before, go; what was typed there does not.
    phone = new(_PHONE)
    keep_given()
    keep_chosen("hall bench/photos", [], [_photo("back", 40), _photo("edge", 10)])
    new(_DESK)
    assert given().chosen == {} and given().typed == {"hall bench/length": "8 ft"}
    # Which they were is known, so that it can be said, until that field has photos again.
    assert given().let_go == {"hall bench/photos": {"front"}}
    keep_chosen("hall bench/photos", [], [])
    assert given().let_go
    keep_chosen("hall bench/photos", [], [_photo("again", 1)])
    assert given().let_go == {}
    look_at(desk)
    assert given().chosen  # in the window itself, which is still open
    new(_PHONE)
    assert [photo.file_id for photo in given().chosen["hall bench/photos"][1]] == ["back", "edge"]
    # Even one browser's own photos, where they alone are too many.
    look_at(phone)
    keep_chosen("hall bench/photos", [], [_photo("all", 101)])
    new(_PHONE)
    assert given().chosen == {}


def _ask(path, accept="text/html", cookie=""):
    async def page(request):
        return HTMLResponse("the page")

    async def words(request):
        return PlainTextResponse("words")

    app = Starlette(
        routes=[Route("/words", words), Route("/", page)], middleware=[Middleware(NameBrowsers)]
    )
    headers = [(b"accept", accept.encode()), (b"cookie", cookie.encode())]
    return asked(app, path, headers=headers)[1].get("set-cookie", "")


def test_a_browser_is_named_once_and_by_a_name_that_says_nothing():
    first, second = _ask("/"), _ask("/")
    assert first.startswith("bothfaces_visit=") and first != second
    # No script reads it, no other site sends it along, and it ends with the browser.
    assert "HttpOnly" in first and "SameSite=Lax" in first
    assert "expires" not in first.casefold() and "max-age" not in first.casefold()
    assert _ask("/", cookie=first.partition(";")[0]) == ""
    assert _ask("/", accept="image/*") == ""
