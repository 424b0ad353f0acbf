"""The page's main script: one road of five steps, one lot at a time."""

from pathlib import Path

import streamlit as st

_VIEWS = Path(__file__).parent / "views"
_STEPS = {
    "parts": "Parts",
    "boards": "Boards",
    "flaws": "Check the flaws",
    "layout": "Layout",
    "cut": "Cut",
}

st.set_page_config(page_title="bothfaces", layout="wide")
page = st.navigation(
    [
        st.Page(_VIEWS / "start.py", title="bothfaces", default=True),
        *(
            st.Page(_VIEWS / f"{name}.py", title=title, url_path=name)
            for name, title in _STEPS.items()
        ),
    ],
    # The road on each page shows the steps, and how far each is.
    position="hidden",
)
page.run()
