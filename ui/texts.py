"""Words that come from files, shown as they are."""

import re

# What Markdown would take for its own (CommonMark, 2.4), and Streamlit for colours and formulas.
_MARKS = re.compile(r"([\\`*_{}\[\]()#+\-.!<>|~:$&])")


def plain(text: str) -> str:
    """Return a text for Markdown that reads as it was written."""
    return _MARKS.sub(r"\\\1", text)
