"""A lot drawn at random: several logs of one species, several boards sawn from each."""

from dataclasses import fields, replace

import numpy as np
from shapely.geometry import Point

from tests.render.draw_boards import draw_board
from tests.render.logs.log import LogBoard, LogSpec
from tests.render.specs import SPECIES, BoardSpec

# How much logs of one species differ in colour, one sd: about 2 in L*, 0.7 in a*, 1 in b*. That
# logs differ most in lightness, and boards of one log little: Nelson, Maeglin and Wahlgren 1969,
# "Relationship of black walnut wood color to soil properties and site"; Liu et al. 2005, "Studies
# on European beech 1" (axial and radial variations small beside those between trees). The size of
# the differences is ours, no source.
LIGHTER_SD, REDDER_SD, YELLOWER_SD = 0.08, 0.018, 0.035
_RING_MM = {"white ash": 2.6, "walnut": 4.2, "hard maple": 2.4}
_SAP_MM = {"white ash": 55.0, "walnut": 26.0, "hard maple": 130.0}
_APART_MM = 4.0
_PITH_MM = 8.0


def draw_lot(
    seed: int,
    *,
    logs: int = 5,
    boards: int = 4,
    species: str | None = None,
    one_colour: bool = False,
) -> tuple[LogBoard, ...]:
    """Return the boards of a lot, log by log.

    All have lain in one stack, so weather and dirt tell nothing of the log. ``one_colour``: the
    logs differ in their rings only.
    """
    rng = np.random.default_rng((seed, 41))
    wood = species or SPECIES[seed % len(SPECIES)]
    weather, dirt = float(rng.beta(1.3, 3.0)), float(rng.beta(1.5, 2.5))
    found: list[LogBoard] = []
    for n in range(logs):
        log, ring_mm, sap_mm = _draw_log(seed * 100 + n, wood, one_colour=one_colour)
        own: list[LogBoard] = []
        number = 0
        while len(own) < boards:
            board = _draw_board((seed * 100 + n) * 100 + number, wood, log, ring_mm, sap_mm)
            number += 1
            if _fits(board, own):
                worn = np.clip(rng.normal([weather, dirt], 0.06), 0.0, 1.0)
                own.append(replace(board, weather=float(worn[0]), dirt=float(worn[1])))
        found += own
    return tuple(found)


def _draw_log(seed: int, wood: str, *, one_colour: bool) -> tuple[LogSpec, float, float]:
    rng = np.random.default_rng((seed, 43))
    own = rng.normal(0, [LIGHTER_SD, REDDER_SD, YELLOWER_SD]) * (not one_colour)
    log = LogSpec(
        seed=seed,
        radius_mm=float(rng.uniform(170, 280)),
        length_mm=float(rng.uniform(2500, 4200)),
        lighter=float(own[0]),
        redder=float(own[1]),
        yellower=float(own[2]),
    )
    ring_mm = _RING_MM[wood] * float(rng.uniform(0.75, 1.5))
    return log, ring_mm, _SAP_MM[wood] * float(rng.uniform(0.6, 1.3))


def _draw_board(seed: int, wood: str, log: LogSpec, ring_mm: float, sap_mm: float) -> LogBoard:
    """Return a board at a place in the log, which may be taken or outside it."""
    rng = np.random.default_rng((seed, 47))
    length = float(rng.uniform(800, 1100))
    drawn = draw_board(seed, species=wood, length_mm=length, flat=True, extras=False)
    t = drawn.thickness_mm
    away = float(rng.uniform(_PITH_MM, 0.8 * log.radius_mm))
    kept = {f.name: getattr(drawn, f.name) for f in fields(BoardSpec)}
    kept |= {
        "pith_y": float(rng.normal(0, 0.35 * drawn.width_mm)),
        "pith_z": t + away if rng.random() < 0.5 else -away,
        "ring_mm": ring_mm,
        "sap_mm": sap_mm,
        "log_mm": log.radius_mm,
        "wane": None,
        "cracks": (),
    }
    return LogBoard(
        **kept,
        log=log,
        along_mm=float(rng.uniform(0, log.length_mm - length)),
        turn_rad=float(rng.uniform(0, 2 * np.pi)),
    )


def _fits(board: LogBoard, others: list[LogBoard]) -> bool:
    own = board.section()
    if not own.within(Point(0, 0).buffer(board.own_log.radius_mm - _APART_MM)):
        return False
    for other in others:
        first, last = sorted((board, other), key=lambda b: b.along_mm)
        is_past = first.along_mm + first.length_mm + _APART_MM < last.along_mm
        if not is_past and own.distance(other.section()) < _APART_MM:
            return False
    return True
