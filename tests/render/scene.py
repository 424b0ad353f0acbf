"""What is rendered: a board's recipe and a photograph's recipe, each drawn from a seed."""

from tests.render.draw_boards import draw_board
from tests.render.draw_extras import draw_mark, with_warp
from tests.render.draw_photos import draw_phone, draw_photo, draw_rule
from tests.render.specs import (
    IN,
    SPECIES,
    BoardSpec,
    CrackSpec,
    KnotSpec,
    LightSpec,
    MarkSpec,
    PhoneSpec,
    PhotoSpec,
    RuleKind,
    SpotSpec,
    StripSpec,
    Turned,
    WaneSpec,
    spec_hash,
)

__all__ = [
    "IN",
    "SPECIES",
    "BoardSpec",
    "CrackSpec",
    "KnotSpec",
    "LightSpec",
    "MarkSpec",
    "PhoneSpec",
    "PhotoSpec",
    "RuleKind",
    "SpotSpec",
    "StripSpec",
    "Turned",
    "WaneSpec",
    "draw_board",
    "draw_mark",
    "draw_phone",
    "draw_photo",
    "draw_rule",
    "spec_hash",
    "with_warp",
]
