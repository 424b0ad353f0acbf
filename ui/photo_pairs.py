"""Which photos are one board's: the proposal as pairs of thumbnails, to be confirmed or changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from scanner.app.add_boards import Order, thumbnail
from scanner.app.propose_pairs import WORDS, PhotoLook, ProposedPair, propose_pairs
from ui.texts import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from ui.desks import Desk

Pair = tuple["UploadedFile", ...]
# Face 1 and face 2 by upload; None: there is no photo of that face.
_Places = tuple[str, str | None]

_ORDERS: dict[str, Order] = {
    "face 1, face 2, face 1, face 2": "in_turn",
    "all faces 1, then all faces 2": "faces_1_first",
}
_THUMBNAIL_PX = 150
_WATCH_S = 0.7
_MISSING = "no photo of face 2"
_CHANGED = "as you said"


def pair_up(desk: Desk, files: Sequence[UploadedFile], rule: str) -> list[Pair]:
    """Show which photos belong together; return the pairs, face 1 first, that are no boards yet.

    Parameters
    ----------
    rule
        Length of the plain rule beside the boards as typed; "" for the printed strip.
    """
    photos = {file.file_id: file for file in files if file.file_id not in desk.scanned}
    order: Order = "in_turn"
    if len(files) > 2:
        order = _ORDERS[st.radio("The photos come as", list(_ORDERS), horizontal=True)]
    if not photos:
        return []
    looks = {name: desk.looks.look_of(photo, rule) for name, photo in photos.items()}
    proposed = _proposed(desk, photos, looks, order, rule)
    key = f"pairs-{desk.rounds}-{order}-{hash(frozenset(photos))}"
    words = dict(proposed)
    places: list[_Places] = st.session_state.get(key) or list(words)
    done = desk.looks.done
    st.fragment(_follow, run_every=_WATCH_S if desk.looks.is_looking else None)(desk, done, looks)
    for number, pair in enumerate(places, 1):
        _show_pair(number, pair, photos, looks, words.get(pair, _CHANGED))
        _say_taps(pair, looks, rule, is_alone=len(places) == 1)
        changed = _ask(number, places, photos, key)
        if changed is not None:
            st.session_state[key] = changed
            st.rerun()
    return [tuple(photos[name] for name in pair if name is not None) for pair in places]


def _proposed(
    desk: Desk,
    photos: dict[str, UploadedFile],
    looks: dict[str, PhotoLook | None],
    order: Order,
    rule: str,
) -> list[tuple[_Places, str]]:
    names = list(photos)
    cards = [look.card if (look := looks[name]) else None for name in names]
    # Two photos are one board's; of more, those without a card are held against each other.
    wants_outlines = sum(card is None for card in cards) > 2 and all(looks.values())
    outlines = [
        desk.looks.outline_of(photo, rule) if card is None else None
        for photo, card in zip(photos.values(), cards, strict=True)
        if wants_outlines
    ]

    def places(pair: ProposedPair) -> _Places:
        return names[pair.first], None if pair.second is None else names[pair.second]

    return [(places(pair), WORDS[pair.why]) for pair in propose_pairs(cards, order, outlines)]


def _follow(desk: Desk, done: int, looks: dict[str, PhotoLook | None]) -> None:
    """Say how far the first looks are; a fragment, with a timer while they go on."""
    if desk.looks.done != done:
        st.rerun()
    left = sum(look is None for look in looks.values())
    if left:
        st.write(f"Looking at the photos: {len(looks) - left} of {len(looks)}.")
    elif desk.looks.is_looking:
        st.write("Holding the outlines against each other.")


def _show_pair(
    number: int,
    pair: _Places,
    photos: dict[str, UploadedFile],
    looks: dict[str, PhotoLook | None],
    why: str,
) -> None:
    shown = [photos[name] for name in pair if name is not None]
    with st.container(horizontal=True, vertical_alignment="center", key=f"pair-{number}"):
        for photo in shown:
            look = looks[photo.file_id]
            if small := _small(photo.file_id, look.rule_px if look else (), photo):
                st.image(small, width=_THUMBNAIL_PX)
        names = [f"face {face} {plain(photo.name)}" for face, photo in enumerate(shown, 1)]
        missing = "" if len(shown) == 2 else ", face 2 is missing"
        # In the order in which they lie in the lot once they are scanned.
        reason = f"  \nPaired {why}." if len(shown) == 2 else ""
        st.markdown(f"Board {number}: {', '.join(names)}{missing}{reason}")
    for photo in shown:
        look = looks[photo.file_id]
        if look is None:
            continue
        if look.will_do:
            card = f"card of board {look.card[0]}, face {look.card[1]}; " if look.card else ""
            st.markdown(f"{plain(photo.name)}: {plain(card + look.verdict)}")
        else:
            advice = look.advice[0] if look.advice and look.advice[0] not in look.verdict else ""
            st.error(f"{plain(photo.name)}: {plain(look.verdict)} {plain(advice)}".strip())


def _say_taps(
    pair: _Places, looks: dict[str, PhotoLook | None], rule: str, *, is_alone: bool
) -> None:
    """Say that a plain rule may be tapped where it was not found."""
    seen = [looks[name] for name in pair if name is not None]
    if not rule or all(look is None or look.rule_px for look in seen):
        return
    if is_alone:
        st.write("You may tap the rule's four corners instead: switch that on below.")
    else:
        st.write("You may tap the rule's four corners instead: scan this board alone for that.")


def _ask(
    number: int, places: list[_Places], photos: dict[str, UploadedFile], key: str
) -> list[_Places] | None:
    """Offer to change a pair; return all pairs as they are then, None where nothing changes."""
    first, second = places[number - 1]
    if second is None and len(photos) == 1:
        return None
    with st.container(horizontal=True, vertical_alignment="bottom", key=f"change-{number}"):
        if second is not None and st.button("Swap the faces", key=f"swap-{number}-{first}"):
            return [(second, first) if pair == (first, second) else pair for pair in places]
        if len(photos) < 3:
            return None
        others = [name for name in photos if name != first]
        chosen = st.selectbox(
            f"Face 2 of board {number} is",
            [*others, None],
            index=len(others) if second is None else others.index(second),
            format_func=lambda name: _MISSING if name is None else photos[name].name,
            key=f"second-{number}-{first}-{second}",
            width=280,
        )
    if chosen == second:
        return None
    return exchanged(places, number - 1, chosen)


def exchanged(places: Sequence[_Places], at: int, chosen: str | None) -> list[_Places]:
    """Return the pairs with another face 2 in one of them; what it had goes where that came from.

    A photo that is nobody's face 2 any more becomes a board of its own.
    """
    first, had = places[at]
    found: list[_Places] = []
    for place, pair in enumerate(places):
        if place == at:
            found.append((first, chosen))
        elif chosen is not None and pair[1] == chosen:
            found.append((pair[0], had))
        elif chosen is not None and pair[0] == chosen:
            # What is left of that pair: its face 2, or what the other one gives away.
            left = [name for name in (had, pair[1]) if name is not None]
            if left:
                found.append((left[0], left[1] if len(left) > 1 else None))
        else:
            found.append(pair)
    if chosen is None and had is not None:
        found.insert(at + 1, (had, None))
    return found


@st.cache_data(max_entries=200, show_spinner=False)
def _small(
    file_id: str, rule_px: tuple[tuple[float, float], ...], _photo: UploadedFile
) -> bytes | None:
    return thumbnail(_photo.getvalue(), rule_px)
