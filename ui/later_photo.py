"""One photo of a board that is in the lot already: chosen, held to the page's limits, its scale."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, TypeGuard

import streamlit as st

from scanner.app.lot.add_boards import upright_copy
from ui import apart
from ui.desks import Job
from ui.frame import state_of
from ui.kept_fields import kept_option, kept_photo, kept_text
from ui.own_units import what_bare_means, with_unit
from ui.pictures import picture_url
from ui.rule_taps.component import RULE_CORNERS, draw_taps, read_taps
from ui.texts import plain
from ui.uploads import BATTEN, STRIP_TAPED, Upload

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from ui.desks import Desk, Progress
    from ui.rule_taps.component import Corners

CORNERS = ("upper left, face 1 up", "upper right", "lower right", "lower left")
STRIP, CARD, RULE = "the printed strip", "the strip or a board card", "a plain rule"


def choose_photo(desk: Desk, label: str, key: str) -> UploadedFile | None:
    """Offer to choose or take one photo; the field is empty again once it was looked at."""
    return kept_photo(desk, key, f"{key}-{desk.rounds}", label)


def ask_rule(desk: Desk, page: str, size: str = "") -> str:
    """Ask what lies beside the wood; return a plain rule's size as typed, "" for the strip.

    ``size`` is where a board card does as well, and a plain rule's width must be known: how such a
    rule's size is written.
    """
    left, right = st.columns(2)
    usual, field = (CARD, "beside-wood") if size else (STRIP, "beside")
    beside = kept_option(desk, left, f"{page}/{field}", "What lies beside it?", [usual, RULE])
    if beside != RULE:
        return ""
    if size:
        typed = kept_text(desk, right, f"{page}/{page}-rule", "Length x width of the rule", size)
    else:
        typed = kept_text(desk, right, f"{page}/rule", "Length of the rule", default="36 in")
    return with_unit(desk, typed.strip())


def ask_strip(desk: Desk, page: str) -> tuple[str, str]:
    """Ask for the strip's taped length and how thick its batten is; return both as typed."""
    left, right = st.columns(2)
    taped = kept_text(desk, left, f"{page}/strip", STRIP_TAPED)
    batten = kept_text(desk, right, f"{page}/batten", BATTEN)
    st.write(what_bare_means(desk))
    return with_unit(desk, taped), with_unit(desk, batten)


def tap_corners(
    photo: UploadedFile | None, what: str, which: tuple[str, ...], rule: str
) -> tuple[Corners, Corners]:
    """Ask for the corners of an end or edge, and of a plain rule if one is named."""
    if photo is None:
        return (), ()
    st.write(f"Tap the four corners of the {what}.")
    corners = _tap_points(photo, which, f"{what}-corners")
    if not rule:
        return corners, ()
    st.write("Tap the four corners of the rule, round it, its zero end’s two first.")
    return corners, _tap_points(photo, RULE_CORNERS, f"{what}-rule-corners")


def is_tapped(
    photo: UploadedFile | None, corners: Corners, of_rule: Corners, rule: str
) -> TypeGuard[UploadedFile]:
    """Whether all is there that the look needs; say what is missing."""
    if photo is None:
        st.error("There is no photo yet: choose or take one.")
    elif len(corners) != 4:
        st.error("Tap all four corners on the photo first.")
    elif rule and len(of_rule) != 4:
        st.error("Tap the four corners of the rule too.")
    else:
        return True
    return False


def _tap_points(photo: UploadedFile, which: tuple[str, ...], key: str) -> Corners:
    found = upright(photo.file_id, photo)
    if found is None:
        st.error(f"{plain(photo.name)} is no photo that can be read.")
        return ()
    copy, size = found
    key = f"{key}-{photo.file_id}"
    # Shown again after another page it has told nothing yet: what was kept stands.
    told = state_of(key, "corners")
    kept: Corners = st.session_state.get(f"kept-{key}", ())
    kept = read_taps(told, size, len(which)) if told else kept
    drawn = draw_taps(copy, size, kept, "", key=key, which=which)
    # No run in between: it would lose a tap on a button that came with the last corner.
    kept = drawn if state_of(key, "corners") else kept
    st.session_state[f"kept-{key}"] = kept
    return kept


@st.cache_data(max_entries=20, show_spinner=False)
def upright(file_id: str, _photo: UploadedFile) -> tuple[str, tuple[int, int]] | None:
    """Return a smaller copy of a photo to tap on as an address, and the photo's own size, px."""
    found = upright_copy(_photo.getvalue())
    if found is None:
        return None
    picture, size = found
    return f"data:image/jpeg;base64,{base64.b64encode(picture).decode()}", size


def as_text(corners: Corners) -> str:
    """Return tapped corners as the commands take them."""
    return " ".join(f"{x:g},{y:g}" for x, y in corners)


def is_busy(desk: Desk) -> bool:
    """Whether work on this lot goes on, so that more of it has to wait."""
    return desk.job is not None and desk.job.is_running


def begin(
    desk: Desk,
    what: str,
    errand: Callable[..., object],
    *given: object,
    photos: Iterable[UploadedFile] = (),
) -> None:
    """Start an errand of `scanner.app` in a process of its own, and draw the page anew.

    ``photos`` are those that it looks at: where it does not fail they are asked for no more.
    """
    looked_at = [photo.file_id for photo in photos]

    def work(progress: Progress) -> None:
        apart.work_apart(errand, desk.lot.path, *given, progress=progress)
        desk.looked_at.update(looked_at)
        desk.rounds += 1

    desk.job = Job(what, work)
    st.rerun()


def as_upload(photo: UploadedFile) -> Upload:
    """Return a chosen photo as an errand takes it."""
    return Upload(photo.name, photo.getvalue())


def show_kept(desk: Desk, file: str, said: str) -> None:
    """Show a picture that is kept with the lot, as wide as the page."""
    path = desk.lot.picture(file)
    if path is None:
        st.error("The picture is not in the lot’s folder any more.")
    else:
        st.image(str(path), width="stretch", alt=said)
        # Opened alone it can be pinched on a phone.
        st.link_button("Look close", picture_url(file))
