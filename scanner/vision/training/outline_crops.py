"""Crops of flat faces that the outline's network is taught with: another light, tone and place."""

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor
from torch.nn import functional

ROWS, COLUMNS = 288, 512
# As `scanner.vision.outline.face_map` shows light and reach: training must not differ from use.
_DARKEST, _UNIT, _BEYOND, _REACH_UNIT_MM = 0.02, 0.4, 4.0, 20.0
# Layers of a face: three colours, three labels (shares of 255), seen, distance from the rule.
_RGB, _LABELS, _SEEN, _RULE = slice(0, 3), slice(3, 6), slice(6, 7), slice(7, 8)
_RULE_UNIT_MM = 0.25
_WANE, _MOST = 1, 255
# Of the crops of a face that carries wane so many are drawn round it.
_ROUND_WANE = 0.5


@dataclass(frozen=True)
class Flat:
    """One flat face at 1 mm per pixel: layers (8, H, W) uint8; the camera's foot, px; the share.

    ``waned``: the columns in which wane shows.
    """

    layers: Tensor
    foot: tuple[float, float]
    share: float
    waned: NDArray[np.int_]


def read_flats(folder: Path, device: str) -> list[Flat]:
    """Return the faces that `tests.bench.learn_outlines` wrote."""
    flats = []
    for path in sorted(folder.glob("*.npz")):
        kept = np.load(path)
        seen, rule = kept["seen"][None].astype(np.uint8), kept["dist"][None]
        layers = np.concatenate([kept["rgb"].transpose(2, 0, 1), kept["lab"], seen, rule])
        x, y = kept["foot"]
        whole = torch.from_numpy(np.ascontiguousarray(layers)).to(device)
        waned = np.flatnonzero((kept["lab"][_WANE] > _MOST // 2).any(axis=0))
        flats.append(Flat(whole, (float(x), float(y)), float(kept["share"]), waned))
    return flats


def draw_batch(flats: list[Flat], count: int, rng: np.random.Generator) -> tuple[Tensor, ...]:
    """Return inputs (N, 6, H, W), labels (N, 3, H, W) and weights (N, 1, H, W)."""
    crops, geometry = zip(
        *(_crop(flats[k], rng) for k in rng.integers(0, len(flats), count)), strict=True
    )
    a = torch.stack(crops).float()
    labels, rule_mm = a[:, _LABELS] / 255, a[:, _RULE] * _RULE_UNIT_MM
    # The rule and a rim round it count as unseen in use; sometimes it was not found so well.
    rim = torch.where(_any(a) < 0.85, 2 + 14 * _any(a), torch.full_like(_any(a), -1.0))
    seen = (a[:, _SEEN] > 0).float() * (rule_mm >= rim).float()
    rgb = _softened(_relit(a[:, _RGB] / 255, labels, rng), rng)
    seen = seen * (1 - _torn(a))
    inputs = torch.cat([_against_wood(rgb, labels[:, :1], seen), seen, _reach(geometry, a)], 1)
    near = functional.avg_pool2d(labels[:, :1], 9, 1, 4)
    return inputs, labels, seen * (1 + 24 * near * (1 - near))


def _crop(flat: Flat, rng: np.random.Generator) -> tuple[Tensor, tuple[float, float, float]]:
    """Return a crop, turned over by chance, and the foot and share as they are told (not truly)."""
    _, height, width = flat.layers.shape
    last = max(0, width - COLUMNS)
    # Ends are rarer than sides: half the crops hold one.
    x = int(rng.integers(0, max(1, last)))
    if rng.random() < 0.5:
        x = int(rng.choice([rng.integers(0, 120), max(0, last - rng.integers(0, 120))]))
    if len(flat.waned) and rng.random() < _ROUND_WANE:
        x = max(0, int(rng.choice(flat.waned)) - int(rng.integers(40, COLUMNS - 40)))
    x, y = min(x, last), int(rng.integers(0, max(1, height - ROWS + 1)))
    crop = flat.layers[:, y : y + ROWS, x : x + COLUMNS]
    crop = functional.pad(crop, (0, COLUMNS - crop.shape[2], 0, ROWS - crop.shape[1]))
    foot_x, foot_y = flat.foot[0] - x, flat.foot[1] - y
    if rng.random() < 0.5:
        crop, foot_x = crop.flip(2), COLUMNS - 1 - foot_x
    if rng.random() < 0.5:
        crop, foot_y = crop.flip(1), ROWS - 1 - foot_y
    share = flat.share * math.exp(rng.normal(0, 0.04)) if rng.random() > 0.08 else 0.0
    return crop, (foot_x + rng.normal(0, 12), foot_y + rng.normal(0, 12), share)


def _any(like: Tensor, channels: int = 1) -> Tensor:
    """Return (N, channels, 1, 1) drawn evenly from 0 to 1."""
    return torch.rand(len(like), channels, 1, 1, device=like.device)


def _normal(like: Tensor, channels: int, rows: int = 1, columns: int = 1) -> Tensor:
    return torch.randn(len(like), channels, rows, columns, device=like.device)


def _slow(like: Tensor, rows: int, columns: int) -> Tensor:
    """Return (N, 1, H, W) that changes slowly."""
    field = _normal(like, 1, rows, columns)
    return functional.interpolate(field, size=(ROWS, COLUMNS), mode="bicubic", align_corners=True)


def _relit(rgb: Tensor, labels: Tensor, rng: np.random.Generator) -> Tensor:
    """Return the colours under another light; in nearly half, floor and board apart."""
    board = functional.avg_pool2d(labels.sum(1, keepdim=True).clamp(0, 1), 3, 1, 1)

    def tone() -> Tensor:
        return torch.exp(0.22 * _normal(rgb, 1) + 0.12 * _normal(rgb, 3))

    floor = (_any(rgb) < 0.45).float() * (1 - board)
    gain = tone() * (1 - floor) + tone() * torch.exp(0.3 * _normal(rgb, 1)) * floor
    gain = gain * torch.exp(0.22 * _slow(rgb, 3, 4) * (_any(rgb) < 0.5))
    hardness = 4 + 60 * _any(rgb) ** 2
    shade = torch.sigmoid((_slow(rgb, 4, 7) - 0.5 - _any(rgb)) * hardness)
    gain = gain * (1 - shade * 0.65 * _any(rgb) * (_any(rgb) < 0.35))
    curve = 1 / (2.2 * torch.exp(0.18 * _normal(rgb, 1)))
    out = (rgb.clamp(1e-4, 1) ** 2.2 * gain).clamp(0, 1) ** curve
    grey = out.mean(1, keepdim=True)
    out = grey + (out - grey) * torch.exp(0.25 * _normal(rgb, 1)) * (_any(rgb) > 0.06)
    if rng.random() < 0.5:
        coarse = int(rng.choice([1, 2, 4, 8]))
        field = _normal(rgb, 1, ROWS // coarse, COLUMNS // coarse)
        texture = functional.interpolate(field, size=(ROWS, COLUMNS), mode="bilinear")
        out = out * (1 + 0.12 * _any(rgb) * texture * (1 - board) * (_any(rgb) < 0.4))
    return out


def _softened(rgb: Tensor, rng: np.random.Generator) -> Tensor:
    """Return the colours blurred in some, with noise."""
    if rng.random() < 0.5:
        away = torch.arange(-4, 5, device=rgb.device).float()
        kernel = torch.exp(-0.5 * (away / float(rng.uniform(0.4, 1.5))) ** 2)
        kernel = kernel / kernel.sum()
        flat = rgb.reshape(-1, 1, ROWS, COLUMNS)
        flat = functional.conv2d(flat, kernel.view(1, 1, 9, 1), padding=(4, 0))
        blurred = functional.conv2d(flat, kernel.view(1, 1, 1, 9), padding=(0, 4)).view_as(rgb)
        rgb = torch.where(_any(rgb) < 0.5, blurred, rgb)
    return (rgb + torch.randn_like(rgb) * 0.03 * _any(rgb) ** 2).clamp(0, 1)


def _against_wood(rgb: Tensor, face: Tensor, seen: Tensor) -> Tensor:
    """Return log ratios of light to the face's own, which is not known exactly."""
    light = torch.log(rgb + _DARKEST)
    wood = ((face > 0.9) & (seen > 0)).float()
    count = wood.sum((2, 3), keepdim=True)
    own = (light * wood).sum((2, 3), keepdim=True) / count.clamp(min=1)
    own = torch.where(count > 500, own, light.mean((2, 3), keepdim=True))
    own = own + 0.12 * _normal(rgb, 1) + 0.05 * _normal(rgb, 3)
    return ((light - own) / _UNIT).clamp(-_BEYOND, _BEYOND) * seen


def _torn(like: Tensor) -> Tensor:
    """Return corners (N, 1, H, W) that no photo shows, in a quarter of the crops."""
    y = torch.arange(ROWS, device=like.device).view(1, 1, ROWS, 1).float() - ROWS / 2
    x = torch.arange(COLUMNS, device=like.device).view(1, 1, 1, COLUMNS).float() - COLUMNS / 2
    way = 2 * math.pi * _any(like)
    beyond = x * torch.cos(way) + y * torch.sin(way) > 200 + 150 * _any(like)
    return (beyond & (_any(like) < 0.25)).float()


def _reach(geometry: tuple[tuple[float, float, float], ...], like: Tensor) -> Tensor:
    """Return (N, 2, H, W): which way and how far a side would show past an arris at each pixel."""
    foot_x, foot_y, share = torch.tensor(geometry, device=like.device).T.view(3, -1, 1, 1, 1)
    x = torch.arange(COLUMNS, device=like.device).view(1, 1, 1, COLUMNS)
    y = torch.arange(ROWS, device=like.device).view(1, 1, ROWS, 1)
    shape = (len(like), 1, ROWS, COLUMNS)
    both = [(share * (foot_x - x)).expand(shape), (share * (foot_y - y)).expand(shape)]
    return (torch.cat(both, 1) / _REACH_UNIT_MM).clamp(-_BEYOND, _BEYOND)
