"""The page's look: paper, graphite and one chalk blue, by configuration but for a little style.

Contrast of every text colour on its ground is 4.5 or more (WCAG 2.2, 1.4.3); `tests/ui` lets
axe-core judge it.
"""

from typing import Any

_PAPER, _PAPER_SHADE, _GRAPHITE, _PENCIL_LINE = "#FAF7F0", "#EFE9DC", "#22272C", "#C9C0AE"
_NIGHT, _NIGHT_SHADE, _CHALK, _NIGHT_LINE = "#1B1F22", "#262B2F", "#EEE9DF", "#4A5157"
_BLUE, _BLUE_AT_NIGHT = "#1D5C96", "#2F77B8"

_BOTH: dict[str, Any] = {
    "font": "sans-serif",
    "headingFont": "serif",
    # 17 px makes Streamlit's own buttons 43 px high; `own_style` gives a thumb the last one.
    "baseFontSize": 17,
    "paddingTop": "0.5rem",
    "paddingBottom": "3rem",
    "baseRadius": "3px",
    "buttonRadius": "3px",
    "headingFontSizes": ["1.7rem", "1.35rem", "1.15rem"],
    "headingFontWeights": [600, 600, 600],
    "showWidgetBorder": True,
    "linkUnderline": True,
}
_FAULT = (
    "Here the page broke off by a fault of the program. What you said is kept: reload the page. "
    "The window that the program was started in tells more."
)
_THUMB_PX = 44
_UNDER_A_THUMB = (
    '[data-testid^="stBaseButton"]',
    '[data-testid^="stBaseLinkButton"]',
    '[data-testid="stExpander"] summary',
    '[data-testid="stTextInputRootElement"]',
    '[data-testid="stTextInputRootElement"] input',
    '[data-testid="stNumberInputContainer"]',
    '[data-testid="stSelectbox"] [role="group"]',
    '[data-testid="stRadioOption"]',
    '[data-testid="stCheckbox"] label',
    '[data-testid="stFileChip"] [data-testid="stFileChipDeleteBtn"] button',
)
_LIGHT: dict[str, Any] = {
    "primaryColor": _BLUE,
    "backgroundColor": _PAPER,
    "secondaryBackgroundColor": _PAPER_SHADE,
    "textColor": _GRAPHITE,
    "borderColor": _PENCIL_LINE,
    "linkColor": _BLUE,
}
_DARK: dict[str, Any] = {
    "primaryColor": _BLUE_AT_NIGHT,
    "backgroundColor": _NIGHT,
    "secondaryBackgroundColor": _NIGHT_SHADE,
    "textColor": _CHALK,
    "borderColor": _NIGHT_LINE,
    "linkColor": "#8DBBE6",
}


def theme() -> dict[str, Any]:
    """Return the theme as configuration entries, light and dark."""
    return {
        f"theme.{where}{name}": value
        for where, values in (("", _BOTH), ("light.", _LIGHT), ("dark.", _DARK))
        for name, value in values.items()
    }


def own_style() -> str:
    """Return what no configuration mends.

    Under a pointer Streamlit writes a tertiary button in the accent colour. At night that is 3.5:1
    against the ground, and no blue is 4.5:1 against both the ground and the white on a main button.
    Under a thumb Streamlit's fields and buttons are a little low (WCAG 2.2, 2.5.5: 44 px). And
    where the program has a fault, Streamlit's words are for the makers of pages.
    """
    button, fault = '[data-testid="stBaseButton-tertiary"]', '[data-testid="stException"]'
    return (
        f"<style>{button}:hover, {button}:focus-visible, {button}:active "
        "{ color: inherit !important; text-decoration: underline; } "
        f"{fault} > * {{ display: none; }} {fault}::before {{ content: '{_FAULT}'; "
        "display: block; padding: 1rem; border-left: 4px solid currentColor; font-weight: 600; }"
        # A form has its button; the words for the key lie over what is typed on a phone.
        '[data-testid="stForm"] [data-testid="InputInstructions"] { display: none; } '
        f"@media (pointer: coarse) {{ {', '.join(_UNDER_A_THUMB)} {{ min-height: {_THUMB_PX}px; "
        f"min-width: {_THUMB_PX}px; }} }}"
        "</style>"
    )


def plain_page_style() -> str:
    """Return the style of a page of our own that stands outside the page proper."""
    return f"""
:root {{ color-scheme: light dark; }}
body {{ margin: 0; background: {_PAPER}; color: {_GRAPHITE}; font: 17px/1.5 sans-serif; }}
main {{ max-width: 26rem; margin: 0 auto; padding: 2rem 1rem; }}
h1 {{ font: 600 1.7rem serif; }}
label {{ display: block; margin-bottom: .3rem; }}
input, button {{ font: inherit; min-height: 48px; border-radius: 3px; box-sizing: border-box; }}
input {{ width: 100%; padding: 0 .8rem; letter-spacing: .12em; border: 1px solid {_PENCIL_LINE};
  background: {_PAPER_SHADE}; color: inherit; }}
button {{ width: 100%; margin-top: .8rem; border: 0; background: {_BLUE}; color: #fff; }}
[role=alert] {{ border-left: 4px solid currentColor; padding-left: .8rem; font-weight: 600; }}
@media (prefers-color-scheme: dark) {{
  body {{ background: {_NIGHT}; color: {_CHALK}; }}
  input {{ background: {_NIGHT_SHADE}; border-color: {_NIGHT_LINE}; }}
  button {{ background: {_BLUE_AT_NIGHT}; }}
}}"""
