"""Boards drawn at random from a seed."""

from dataclasses import replace

import numpy as np

from tests.render.draw_extras import with_extras, with_warp
from tests.render.specs import SPECIES, BoardSpec, CrackSpec, KnotSpec, SpotSpec, WaneSpec


def draw_board(
    seed: int,
    *,
    species: str | None = None,
    length_mm: float | None = None,
    clean: bool = False,
    flat: bool = False,
    extras: bool = True,
) -> BoardSpec:
    """Return a board drawn at random.

    ``clean`` leaves out every flaw but crook, taper and warp; ``flat`` leaves out the warp,
    ``extras=False`` shakes, pitch, oil and chalk.
    """
    rng = np.random.default_rng((seed, 11))
    wood = species or SPECIES[int(rng.integers(len(SPECIES)))]
    length = length_mm or float(rng.uniform(1200, 2480))
    width = float(rng.uniform(130, 235))
    thickness = float(rng.normal(27.2, 0.7))
    away = float(rng.choice([rng.uniform(25, 90), rng.uniform(90, 220)]))
    below = bool(rng.random() < 0.5)  # the pith lies beyond face 2
    pith_z = thickness + away if below else -away
    pith_y = float(rng.normal(0, 0.28 * width))
    corner = np.hypot(width / 2 + abs(pith_y) + 6, away + thickness + 4)
    board = BoardSpec(
        seed=seed,
        species=wood,
        length_mm=length,
        width_mm=width,
        thickness_mm=thickness,
        taper=float(rng.normal(0, 0.018)),
        crook=float(rng.normal(0, 3.2) * (length / 2440) ** 2),
        end_a_deg=float(rng.normal(0, 1.0)),
        end_b_deg=float(rng.normal(0, 1.0)),
        pith_y=pith_y,
        pith_z=pith_z,
        ring_mm=float(
            {"white ash": 2.6, "walnut": 4.2, "hard maple": 2.4}[wood] * rng.uniform(0.75, 1.5)
        ),
        sap_mm=float(
            {"white ash": 55, "walnut": 26, "hard maple": 130}[wood] * rng.uniform(0.6, 1.3)
        ),
        log_mm=float(corner * rng.uniform(1.04, 1.35)),
        saw="circular" if rng.random() < 0.5 else "band",
        weather=float(rng.beta(1.3, 3.0)),
        dirt=float(rng.beta(1.5, 2.5)),
        coated_ends=str(rng.choice(["", "", "", "#7d2f26", "#5d7f9c", "#d8d4c8"])),
    )
    if not flat:
        board = with_warp(board)
    if clean:
        return board
    flawed = replace(
        board,
        knots=_draw_knots(rng, board, below),
        cracks=_draw_cracks(rng, board),
        spots=_draw_spots(rng, board),
        wane=_draw_wane(rng, board),
    )
    return with_extras(flawed) if extras else flawed


def _draw_knots(rng: np.random.Generator, board: BoardSpec, below: bool) -> tuple[KnotSpec, ...]:
    count = int(rng.poisson(2.6 * board.length_mm / 2000))
    found: list[KnotSpec] = []
    for _ in range(count * 6):
        if len(found) >= count:
            break
        x = float(rng.uniform(70, board.length_mm - 70))
        y = float(rng.uniform(-0.5, 0.5) * board.width_mm * 0.92)
        radius = float(np.clip(rng.lognormal(2.0, 0.45), 3.2, 19))
        if any(abs(x - k.x) < 9 * (radius + k.radius) and abs(y - k.y) < 60 for k in found):
            continue
        look = str(rng.choice(["sound", "loose", "hollow", "cracked"], p=[0.52, 0.24, 0.08, 0.16]))
        stops = rng.random() < 0.3
        until = float(rng.uniform(0.25, 0.8) * board.thickness_mm) if stops else float("inf")
        found.append(
            KnotSpec(
                x=x,
                y=y,
                radius=radius,
                lean=float(rng.normal(0.25, 0.2)),
                until=until,
                look=look,  # type: ignore[arg-type]
                seed=int(rng.integers(1 << 30)),
            )
        )
    return tuple(found)


def _draw_cracks(rng: np.random.Generator, board: BoardSpec) -> tuple[CrackSpec, ...]:
    cracks: list[CrackSpec] = []
    half = board.width_mm / 2
    for end in ("A", "B"):
        for _ in range(int(rng.poisson(1.1))):
            split = bool(rng.random() < 0.25)
            long = float(rng.uniform(60, 320) if split else rng.uniform(25, 150))
            short = long * float(rng.uniform(0.75, 1.0) if split else rng.uniform(0.15, 0.75))
            first = rng.random() < 0.5
            cracks.append(
                CrackSpec(
                    kind="split" if split else "check",
                    end=end,  # type: ignore[arg-type]
                    face=0,
                    x=0.0,
                    y=float(rng.uniform(-0.75, 0.75) * half),
                    reach1=long if first else short,
                    reach2=short if first else long,
                    width=float(rng.uniform(1.2, 3.0) if split else rng.uniform(0.5, 1.6)),
                    seed=int(rng.integers(1 << 30)),
                )
            )
    for _ in range(int(rng.poisson(0.8))):
        cracks.append(
            CrackSpec(
                kind="check",
                end="",
                face=int(rng.integers(1, 3)),
                x=float(rng.uniform(0.12, 0.88) * board.length_mm),
                y=float(rng.uniform(-0.7, 0.7) * half),
                reach1=float(rng.uniform(40, 220)),
                reach2=0.0,
                width=float(rng.uniform(0.4, 1.0)),
                seed=int(rng.integers(1 << 30)),
            )
        )
    return tuple(cracks)


def _draw_spots(rng: np.random.Generator, board: BoardSpec) -> tuple[SpotSpec, ...]:
    spots: list[SpotSpec] = []
    t, half, length = board.thickness_mm, board.width_mm / 2, board.length_mm

    def spot(kind: str, look: str, z: float, size: tuple[float, float, float]) -> None:
        spots.append(
            SpotSpec(
                kind=kind,  # type: ignore[arg-type]
                look=look,
                x=float(rng.uniform(0.08, 0.92) * length),
                y=float(rng.uniform(-0.8, 0.8) * half),
                z=z,
                size=size,
                seed=int(rng.integers(1 << 30)),
            )
        )

    if rng.random() < 0.18:
        radius = float(rng.uniform(1.5, 3.0))
        spot("hole", "nail", t / 2, (radius, radius, t))
    if rng.random() < 0.15:
        for _ in range(int(rng.integers(1, 6))):
            radius = float(rng.uniform(0.6, 1.6))
            side = float(rng.choice([0.0, t]))
            spot("hole", "worm", side, (radius, radius, t * 0.4))
    if rng.random() < 0.25:
        z = float(rng.choice([0.0, t, t / 2]))
        size = (float(rng.uniform(12, 40)), float(rng.uniform(2.5, 6)), float(rng.uniform(6, 18)))
        spot("bark_pocket", "", z, size)
    if rng.random() < 0.3:
        z = float(rng.choice([0.0, t]))
        size = (float(rng.uniform(60, 260)), float(rng.uniform(6, 22)), t * 0.6)
        spot("stain", "mineral", z, size)
    if rng.random() < 0.2:
        z = float(rng.choice([0.0, t]))
        spot("stain", "sticker", z, (float(rng.uniform(13, 20)), 2 * board.width_mm, 4.0))
    return tuple(spots)


def _draw_wane(rng: np.random.Generator, board: BoardSpec) -> WaneSpec | None:
    if rng.random() < 0.5:
        return None
    return WaneSpec(
        # The outer edge of the log is the one further from the pith.
        side=-int(np.sign(board.pith_y)) or 1,
        width=float(rng.uniform(8, 30)),
        middle=float(rng.choice([rng.uniform(-0.05, 0.3), rng.uniform(0.7, 1.05)])),
        spread=float(rng.uniform(0.15, 0.5)),
        bark=float(rng.uniform(0.2, 1.0)),
        bark_mm=float(rng.uniform(3, 7)),
    )
