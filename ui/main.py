"""The page's main script: one road, one lot at a time."""

from pathlib import Path

import streamlit as st

_VIEWS = Path(__file__).parent / "views"

st.set_page_config(page_title="bothfaces", layout="wide")
page = st.navigation(
    [st.Page(_VIEWS / "boards.py", title="Boards", url_path="boards", default=True)],
    position="hidden",
)
page.run()
