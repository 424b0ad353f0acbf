"""Help: the guides, to be read without a network, in the page's own look."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import streamlit as st

from scanner.app.find_guides import GUIDES, find_guide
from ui.frame import go_to_lot, leave_lot, wanted_lot

if TYPE_CHECKING:
    from pathlib import Path

# A picture on a line of its own, and a link to another guide or a picture's file.
_PICTURE = re.compile(r"^!\[([^\]]*)\]\(([\w.-]+)\)$", re.MULTILINE)
_LINK = re.compile(r"\[([^\]]+)\]\(([\w-]+)\.md(?:#[\w-]+)?\)")
_TITLE = re.compile(r"\A# (.+)\n")
_SECTION = re.compile(r"^## ", re.MULTILINE)
# Longer guides are for looking something up: a section at a time.
_LONG = 10_000


def show() -> None:
    """Show the page."""
    st.title("Help", anchor=False)
    lot = wanted_lot()
    # As on the pages beside the steps; and not where the finger that asked for help still is.
    label = "Other lots" if lot is None else f"Back to {lot}"
    if st.button(label, type="tertiary", icon=":material/arrow_back:"):
        if lot is None:
            leave_lot()
        else:
            go_to_lot(lot)
    there = {name: file for name in GUIDES if (file := find_guide(name)) is not None}
    if not there:
        st.write("The guides do not lie beside the program: they are in its folder docs.")
        return
    asked = st.query_params.get("guide")
    names = list(there)
    name = st.radio(
        "Guide",
        names,
        index=names.index(asked) if asked in there else 0,
        format_func=lambda one: GUIDES[one],
        horizontal=True,
    )
    text = there[name].read_text("utf-8")
    if len(text) > _LONG:
        text = _chosen_section(text)
    with st.container(width=820):
        _write(text, there[name].parent)


def _chosen_section(text: str) -> str:
    """Ask for a section of a long guide; return its text below the guide's own title."""
    head, *sections = _SECTION.split(text)
    by_title = {one.partition("\n")[0].strip(): one.partition("\n")[2] for one in sections}
    title = st.selectbox("Section", list(by_title))
    first = _TITLE.match(head)
    return f"# {first.group(1) if first else title}\n\n## {title}\n{by_title[title]}"


def _write(text: str, folder: Path) -> None:
    """Write a guide: a title, text, and its pictures, which lie beside it."""
    title = _TITLE.match(text)
    if title:
        st.header(title.group(1), anchor=False)
        text = text[title.end() :]
    text = _LINK.sub(_linked, text)
    at = 0
    for picture in _PICTURE.finditer(text):
        _words(text[at : picture.start()])
        _picture(folder, *picture.groups())
        at = picture.end()
    _words(text[at:])


def _linked(link: re.Match[str]) -> str:
    words, name = link.groups()
    return f"*{words}* (*{GUIDES[name]}* in this help)" if name in GUIDES else words


def _words(text: str) -> None:
    if text.strip():
        st.markdown(text)


def _picture(folder: Path, said: str, name: str) -> None:
    # Looked up among what lies there, never joined to a path.
    file = next((one for one in folder.iterdir() if one.name == name), None)
    if file is None:
        return
    shown = file.read_text("utf-8") if file.suffix == ".svg" else str(file)
    st.image(shown, width="stretch", alt=said)


show()
