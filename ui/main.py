"""The page's main script: one road of five steps, one lot at a time."""

from pathlib import Path

_VIEWS = Path(__file__).parent / "views"
_STEPS = {
    "parts": "Parts",
    "boards": "Boards",
    "flaws": "Flaws",
    "layout": "Layout",
    "cut": "Cut",
}


def draw() -> None:
    """Draw the page that the address names."""
    # Here, as a worker that is started while the page is drawn runs this file as well.
    import streamlit as st

    from ui.frame import offer_side_pages, watch_other_windows
    from ui.look import own_style
    from ui.side_pages import SIDE_PAGES

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


# Streamlit runs this as the main program, and a worker, which takes it for its parent's, as
# "__mp_main__" (multiprocessing): it must not draw a page, nor open a lot, of its own.
if __name__ == "__main__":
    draw()
