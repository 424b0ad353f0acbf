"""Which photos are one board's: the proposal with thumbnails, to be confirmed or changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from scanner.app.lot.add_boards import Order, thumbnail
from scanner.app.lot.propose_pairs import WORDS, PhotoLook, ProposedPair, propose_pairs
from ui.kept_fields import kept_option, kept_photos
from ui.texts import plain
from ui.watching import WATCH_S, watch

if TYPE_CHECKING:
    from collections.abc import Sequence

    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from ui.desks import Desk

# Uploads of face 1 and of face 2 of a board, by name; () where that face was not photographed.
Places = tuple[tuple[str, ...], tuple[str, ...]]

_ORDERS: dict[str, Order] = {
    "face 1, face 2, face 1, face 2": "in_turn",
    "all faces 1, then all faces 2": "faces_1_first",
    "each face twice: face 1, face 1, face 2, face 2": "twice",
}
_THUMBNAIL_PX = 150
_CHANGED = "as you said"
_OWN_BOARD = "a board of its own"


@dataclass(frozen=True, slots=True)
class ChosenBoard:
    """Photos that become one board: those of face 1, those of face 2."""

    face_1: tuple[UploadedFile, ...]
    face_2: tuple[UploadedFile, ...]

    @property
    def photos(self) -> tuple[UploadedFile, ...]:
        """All of them, face 1 first."""
        return (*self.face_1, *self.face_2)


def pair_up(
    desk: Desk, files: Sequence[UploadedFile], rule: str, *, is_taped: bool = False
) -> list[ChosenBoard]:
    """Show which photos belong together; return the boards that they become.

    Parameters
    ----------
    rule
        Length of the plain rule beside the boards as typed; "" for the printed strip.
    is_taped
        Whether board or strip were taped: then the photos need not be better for it.
    """
    photos = {file.file_id: file for file in files if file.file_id not in desk.scanned}
    order: Order = "in_turn"
    if len(files) > 2:
        asked = "The photos come as"
        order = _ORDERS[kept_option(desk, st.container(), "add/order", asked, list(_ORDERS))]
    if not photos:
        return []
    # Asked before the looks: one that comes in between is noticed by the timer.
    done = desk.looks.done
    looks = {name: desk.looks.look_of(photo, rule) for name, photo in photos.items()}
    proposed = _proposed(desk, photos, looks, order, rule)
    key = f"pairs-{desk.rounds}-{order}-{hash(frozenset(photos))}"
    words = dict(proposed)
    places: list[Places] = st.session_state.get(key) or list(words)
    goes_on = desk.looks.is_looking or desk.looks.done != done
    # A place of its own: what it says comes and goes.
    with st.container():
        watch(lambda by_timer: _follow(desk, done, looks, by_timer), WATCH_S if goes_on else None)
    boards, units = [], desk.lot.shop().units
    for number, place in enumerate(places, 1):
        with st.container(key=f"board-{number}"):
            shown = st.container()
            faces = _with_more(desk, number, place, photos)
            now = {photo.file_id: photo for face in faces for photo in face}
            seen = {name: desk.looks.look_of(photo, rule) for name, photo in now.items()}
            with shown:
                _show_board(
                    number, faces, seen, words.get(place, _CHANGED), units, is_taped=is_taped
                )
            changed = _ask(number, places, photos)
        boards.append(ChosenBoard(*faces))
        if changed is not None:
            st.session_state[key] = changed
            st.rerun()
    return boards


def _proposed(
    desk: Desk,
    photos: dict[str, UploadedFile],
    looks: dict[str, PhotoLook | None],
    order: Order,
    rule: str,
) -> list[tuple[Places, str]]:
    names = list(photos)
    cards = [look.card if (look := looks[name]) else None for name in names]
    # Two photos are one board's; of more, those without a card are held against each other.
    wants_outlines = sum(card is None for card in cards) > 2 and all(looks.values())
    outlines = [
        desk.looks.outline_of(photo, rule) if card is None else None
        for photo, card in zip(photos.values(), cards, strict=True)
        if wants_outlines
    ]

    def places(pair: ProposedPair) -> Places:
        second = () if pair.second is None else (pair.second, *pair.more_second)
        return (
            tuple(names[one] for one in (pair.first, *pair.more_first)),
            tuple(names[one] for one in second),
        )

    return [(places(pair), WORDS[pair.why]) for pair in propose_pairs(cards, order, outlines)]


def _follow(desk: Desk, done: int, looks: dict[str, PhotoLook | None], by_timer: bool) -> None:
    """Say how far the first looks are, again while they go on."""
    if by_timer and desk.looks.done != done:
        st.rerun()
    left = sum(look is None for look in looks.values())
    if left:
        st.write(f"Looking at the photos: {len(looks) - left} of {len(looks)}.")
    elif desk.looks.is_looking:
        st.write("Holding the outlines against each other.")


def _show_board(
    number: int,
    faces: tuple[tuple[UploadedFile, ...], ...],
    looks: dict[str, PhotoLook | None],
    why: str,
    units: str,
    *,
    is_taped: bool,
) -> None:
    photos = [photo for face in faces for photo in face]
    with st.container(horizontal=True, vertical_alignment="center", key=f"pair-{number}"):
        for face, several in enumerate(faces, 1):
            for photo in several:
                look = looks[photo.file_id]
                if small := _small(photo.file_id, look.rule_px if look else (), photo):
                    st.image(small, width=_THUMBNAIL_PX, caption=f"face {face}")
    named = [
        f"face {face} {' and '.join(plain(photo.name) for photo in several)}"
        for face, several in enumerate(faces, 1)
        if several
    ]
    missing = "" if faces[1] else ", face 2 is missing"
    # In the order in which they lie in the lot once they are scanned.
    reason = f"  \nPaired {why}." if faces[1] else ""
    st.markdown(f"Board {number}: {', '.join(named)}{missing}{reason}")
    for photo in photos:
        look = looks[photo.file_id]
        if look is None:
            continue
        verdict = look.verdict_in(units)
        if look.will_do:
            card = f"card of board {look.card[0]}, face {look.card[1]}; " if look.card else ""
            # Good for rough lengths only: what would help most.
            better = look.advice[0] if look.is_rough and look.advice and not is_taped else ""
            st.markdown(f"{plain(photo.name)}: {plain(f'{card}{verdict} {better}'.strip())}")
        else:
            # What mends it may stand in the verdict already.
            said = verdict.casefold()
            advice = next((one for one in look.advice if one.casefold() not in said), "")
            st.error(f"{plain(photo.name)}: {plain(verdict)} {plain(advice)}".strip())


def _with_more(
    desk: Desk, number: int, place: Places, photos: dict[str, UploadedFile]
) -> tuple[tuple[UploadedFile, ...], tuple[UploadedFile, ...]]:
    """Ask for one more photo of each face; return the photos of both faces with it."""
    chosen = tuple(tuple(photos[name] for name in face) for face in place)
    once = [face for face, several in enumerate(chosen, 1) if len(several) == 1]
    if not once:
        return chosen[0], chosen[1]
    with st.expander(f"Better: one more photo of each face of board {number}, from its other side"):
        st.write(
            "Walk round to the board's other long side and take the same face again, with the "
            "strip or rule in view. Two photos tell bow and height from length; one cannot."
        )
        found = list(chosen)
        for face, column in zip(once, st.columns(len(once)), strict=True):
            with column:
                of = chosen[face - 1][0].file_id
                more = kept_photos(
                    desk,
                    f"more-{of}",
                    f"more-{desk.rounds}-{of}",
                    f"Face {face} of board {number} once more",
                )
            found[face - 1] = (*chosen[face - 1], *more)
    return found[0], found[1]


def _ask(number: int, places: list[Places], photos: dict[str, UploadedFile]) -> list[Places] | None:
    """Offer to change what belongs together; return all boards as they are then, else None."""
    place = places[number - 1]
    if len(photos) == 1:
        return None
    if place[1] and st.button("Swap the faces", key=f"swap-{number}-{place[0][0]}"):
        return [(one[1], one[0]) if one == place else one for one in places]
    if len(photos) < 3:
        return None
    with st.expander(f"Put a photo of board {number} elsewhere"):
        for name in (*place[0], *place[1]):
            here = (number - 1, 1 if name in place[0] else 2)
            wanted = _ask_where(name, here, places, photos)
            # A board of one photo is a board of its own already.
            if wanted != here and (after := put(places, name, wanted)) != places:
                return after
    return None


_Spot = tuple[int, int] | None


def _ask_where(
    name: str, here: tuple[int, int], places: list[Places], photos: dict[str, UploadedFile]
) -> _Spot:
    spots: list[_Spot] = [(board, face) for board in range(len(places)) for face in (1, 2)]
    return st.selectbox(
        f"{photos[name].name} shows",
        [*spots, None],
        index=spots.index(here),
        format_func=lambda spot: (
            _OWN_BOARD if spot is None else f"board {spot[0] + 1}, face {spot[1]}"
        ),
        key=f"where-{name}-{hash(tuple(places))}",
        width=320,
    )


def put(places: Sequence[Places], name: str, spot: _Spot) -> list[Places]:
    """Return the boards with one photo put elsewhere, as a further photo where one is already.

    Parameters
    ----------
    name
        The photo.
    spot
        Board (from 0) and face (1 or 2) that it shows; None: a board of its own.
    """
    found: list[Places] = []
    for at, (first, second) in enumerate(places):
        had = name in first or name in second
        faces = [tuple(one for one in face if one != name) for face in (first, second)]
        if spot is not None and spot[0] == at:
            faces[spot[1] - 1] = (*faces[spot[1] - 1], name)
        # A board begins with its face 1.
        if not faces[0]:
            faces.reverse()
        if faces[0]:
            found.append((faces[0], faces[1]))
        if had and spot is None:
            found.append(((name,), ()))
    return found


@st.cache_data(max_entries=200, show_spinner=False)
def _small(
    file_id: str, rule_px: tuple[tuple[float, float], ...], _photo: UploadedFile
) -> bytes | None:
    return thumbnail(_photo.getvalue(), rule_px)
