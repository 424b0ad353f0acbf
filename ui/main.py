"""The page's main script: one road of five steps, one lot at a time."""

from pathlib import Path

import streamlit as st

from ui.frame import offer_side_pages, watch_other_windows
from ui.look import own_style
from ui.side_pages import SIDE_PAGES

_VIEWS = Path(__file__).parent / "views"
_STEPS = {
    "parts": "Parts",
    "boards": "Boards",
    "flaws": "Flaws",
    "layout": "Layout",
    "cut": "Cut",
}

st.set_page_config(page_title="bothfaces", layout="wide")
st.html(own_style())
page = st.navigation(
    [
        st.Page(_VIEWS / "start.py", title="bothfaces", default=True),
        st.Page(_VIEWS / "help.py", title="Help", url_path="help"),
        *(
            st.Page(_VIEWS / f"{name}.py", title=title, url_path=name)
            for name, title in _STEPS.items()
        ),
        *(
            st.Page(_VIEWS / f"{side.name}.py", title=side.title, url_path=side.name)
            for side in SIDE_PAGES
        ),
    ],
    # The road on each page shows the steps, and how far each is.
    position="hidden",
)
page.run()
offer_side_pages(page.url_path)
watch_other_windows()
