"""Crops of the training faces under other lights, lenses, scales and saws; on the GPU in one go."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import torch
import torch.nn.functional as F  # noqa: N812 (the field's name for it)
from torch import Tensor

from scanner.vision.flaws.learned_maps import BEYOND, DARKEST, UNIT
from scanner.vision.training.drawn_cracks import with_cracks
from scanner.vision.training.targets import WOOD

Draw = Callable[..., Tensor]

CROP = (320, 512)
_WINDOW = 960


@dataclass(frozen=True, slots=True, eq=False)
class Atlas:
    """All faces side by side: ``rgb`` (V, 3, H, W) uint8 in V grades of JPEG, targets (H, W).

    ``start``, ``length``, ``middle``, ``clear`` are, a face: first column, columns, middle row of
    the face, clear wood (3,) 0..1. ``anchors`` (N, 4): face, x, y, group of each mark.
    """

    rgb: Tensor
    code: Tensor
    core: Tensor
    weight: Tensor
    start: Tensor
    length: Tensor
    middle: Tensor
    clear: Tensor
    anchors: Tensor
    anchor_odds: Tensor
    face_odds: Tensor


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """``x`` (N, 3, h, w) normalised pixels; ``code``, ``core``, ``weight`` (N, h, w)."""

    x: Tensor
    code: Tensor
    core: Tensor
    weight: Tensor


def draw_batch(atlas: Atlas, count: int) -> Batch:
    """Return ``count`` crops drawn at random; half of them hold a mark."""
    device = atlas.rgb.device
    half = count // 2
    anchors = atlas.anchors[torch.multinomial(atlas.anchor_odds, half, replacement=True)]
    faces = torch.multinomial(atlas.face_odds, count - half, replacement=True)
    any_x = torch.rand(count - half, device=device) * atlas.length[faces]
    any_y = atlas.middle[faces] + 50 * torch.randn(count - half, device=device)
    face = torch.cat([anchors[:, 0].long(), faces])
    jitter = torch.rand(half, 2, device=device) - 0.5
    x = torch.cat([anchors[:, 1] + jitter[:, 0] * 0.8 * CROP[1], any_x])
    near = 0.5 * (anchors[:, 2] + atlas.middle[anchors[:, 0].long()])
    y = torch.cat([near + jitter[:, 1] * 120, any_y])
    # A crop stays on its face: beyond it lies the next one.
    x = torch.minimum(torch.maximum(x, torch.full_like(x, 60)), atlas.length[face] - 60.0)
    planes = _gather(atlas, face, x)
    grid = _grid(count, y, x, face, atlas)
    rgb = F.grid_sample(planes[0], grid, padding_mode="border", align_corners=False)
    soft = F.grid_sample(planes[1], grid, padding_mode="zeros", align_corners=False)
    code = F.grid_sample(planes[2], grid, mode="nearest", align_corners=False)[:, 0].round().int()
    drawn, code = with_cracks(rgb.clamp(0, 255) / 255, code)
    ratio = _as_seen(drawn, atlas.clear[face], (code & WOOD) > 0)
    return Batch(ratio, code, soft[:, 0], soft[:, 1])


def _gather(atlas: Atlas, face: Tensor, x: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Return windows of the atlas round x of each face: rgb, (core, weight), code; all float."""
    columns = atlas.code.shape[1]
    left = (atlas.start[face] + x).round().long() - _WINDOW // 2
    left = left.clamp(0, columns - _WINDOW)
    version = torch.randint(atlas.rgb.shape[0], (len(face),)).tolist()
    lefts = left.tolist()
    rgb = torch.stack(
        [atlas.rgb[v, :, :, a : a + _WINDOW] for v, a in zip(version, lefts, strict=True)]
    )
    soft = torch.stack(
        [
            torch.stack([atlas.core[:, a : a + _WINDOW], atlas.weight[:, a : a + _WINDOW]])
            for a in lefts
        ]
    )
    code = torch.stack([atlas.code[:, a : a + _WINDOW] for a in lefts])[:, None]
    return rgb.float(), soft.float(), code.float()


def _grid(count: int, y: Tensor, x: Tensor, face: Tensor, atlas: Atlas) -> Tensor:
    """Return sampling points (N, h, w, 2) in the windows' -1..1: flips, scales, small turns."""
    device = y.device
    rows, window = atlas.code.shape[0], _WINDOW
    scale = torch.exp(0.22 * torch.randn(count, device=device)).clamp(0.66, 1.5)
    stretch = torch.exp(0.05 * torch.randn(count, device=device))
    flip = torch.randint(0, 2, (count, 2), device=device) * 2.0 - 1.0
    turn = 0.045 * torch.randn(count, device=device)
    shear = 0.03 * torch.randn(count, device=device)
    v, u = torch.meshgrid(
        torch.arange(CROP[0], device=device) - (CROP[0] - 1) / 2,
        torch.arange(CROP[1], device=device) - (CROP[1] - 1) / 2,
        indexing="ij",
    )
    u = u[None] * (flip[:, 0] * scale * stretch)[:, None, None]
    v = v[None] * (flip[:, 1] * scale)[:, None, None]
    c, s = torch.cos(turn)[:, None, None], torch.sin(turn + shear)[:, None, None]
    px = c * u - torch.sin(turn)[:, None, None] * v
    py = s * u + c * v
    # The window's left column may have been held back at the atlas's ends.
    left = (atlas.start[face] + x).round() - window // 2
    off = left - left.clamp(0, atlas.code.shape[1] - window)
    # Beyond the face's own columns lies its neighbour: fold back onto the face.
    first = (atlas.start[face] - left + off)[:, None, None]
    last = first + atlas.length[face][:, None, None] - 1
    gx = window / 2 + off[:, None, None] + px
    gx = first + (gx - first).abs()
    gx = last - (last - gx).abs()
    gy = y[:, None, None] + py
    return torch.stack([(gx + 0.5) / window * 2 - 1, (gy + 0.5) / rows * 2 - 1], dim=-1)


def _as_seen(rgb: Tensor, clear: Tensor, wood: Tensor) -> Tensor:
    """Return the crops as another species, light, lens and saw would show them."""
    n, _, h, w = rgb.shape
    device = rgb.device

    def normal(*size: int) -> Tensor:
        return torch.randn(*size, device=device)

    def some(share: float) -> Tensor:
        return (torch.rand(n, 1, 1, 1, device=device) < share).float()

    r = torch.log((rgb + DARKEST) / (clear[:, :, None, None] + DARKEST)) / UNIT
    r = _recoloured(r, normal)
    r = r + _lights(n, h, w, normal, some, device)
    r = _dirty(r, n, h, w, normal, some, device)
    r = _blurred(r, device)
    white = normal(n, 1, h, w)
    grain = 0.5 * white + 0.9 * F.avg_pool2d(white, 3, 1, 1)
    level = 0.16 * torch.rand(n, 1, 1, 1, device=device) ** 2
    r = r + level * grain + 0.4 * level * normal(n, 3, h, w)
    r = r + 0.06 * normal(n, 3, 1, 1)
    ground = (1.2 * normal(n, 1, 1, 1) - 1.0) + 0.3 * normal(n, 3, 1, 1) + 0.1 * white
    other = some(0.5) * (~wood[:, None]).float()
    r = r * (1 - other) + ground * other
    return r.clamp(-BEYOND, BEYOND)


def _recoloured(r: Tensor, normal: Draw) -> Tensor:
    """Other species: contrast of light and of colour, bent curves, mixed channels."""
    n = len(r)
    light = r.mean(dim=1, keepdim=True)
    colour = r - light
    mix = torch.eye(3, device=r.device)[None] + 0.07 * normal(n, 3, 3)
    colour = torch.einsum("nij,njhw->nihw", mix, colour)
    light = light * torch.exp(0.25 * normal(n, 1, 1, 1))
    light = light + 0.06 * normal(n, 1, 1, 1) * light.clamp(-3, 3) ** 2
    follow = 0.08 * normal(n, 3, 1, 1) * light
    return light + follow + colour * torch.exp(0.4 * normal(n, 1, 1, 1))


def _lights(n: int, h: int, w: int, normal: Draw, some: Draw, device: torch.device) -> Tensor:
    """Uneven light, a step where two lamps meet, a hard shadow."""
    coarse = torch.cat([normal(n, 1, 3, 4), 0.15 * normal(n, 2, 3, 4)], dim=1) * 0.22
    field = F.interpolate(coarse, (h, w), mode="bicubic", align_corners=True)
    v = torch.linspace(-1, 1, h, device=device)[None, None, :, None]
    u = torch.linspace(-1, 1, w, device=device)[None, None, None, :]
    lamp = torch.sigmoid((v - 0.8 * torch.rand(n, 1, 1, 1, device=device) + 0.4) * h / 4)
    field = field + some(0.35) * 0.3 * normal(n, 1, 1, 1) * lamp
    turn = math.pi * torch.rand(n, 1, 1, 1, device=device)
    side = torch.cos(turn) * u + torch.sin(turn) * v * h / w + 0.4 * normal(n, 1, 1, 1)
    shadow = torch.sigmoid(side * w / (4 + 40 * torch.rand(n, 1, 1, 1, device=device)))
    depth = 0.5 + 1.2 * torch.rand(n, 1, 1, 1, device=device)
    return field - some(0.15) * depth * shadow


def _dirty(
    r: Tensor, n: int, h: int, w: int, normal: Draw, some: Draw, device: torch.device
) -> Tensor:
    """Saw marks across the board, open pores, dirt, chalk and pencil lines: none is a flaw."""
    v = torch.linspace(-1, 1, h, device=device)[None, None, :, None]
    u = torch.arange(w, device=device)[None, None, None, :].float()

    def share() -> Tensor:
        return torch.rand(n, 1, 1, 1, device=device)

    marks = F.interpolate(normal(n, 1, w // 3 + 1), w, mode="linear")[:, :, None, :]
    pitch = 4 + 30 * share()
    bend = 12 * normal(n, 1, 1, 1) * v + 10 * normal(n, 1, 1, 1) * v * v
    teeth = torch.cos(2 * math.pi * (u + bend) / pitch)
    r = r + some(0.35) * 0.07 * normal(n, 1, 1, 1) * marks
    r = r + some(0.35) * 0.08 * share() * teeth
    patchy = F.interpolate(normal(n, 1, 4, 6), (h, w), mode="bicubic").clamp(0, 1.5)
    deep = some(0.2) * share()
    # Marks as deep as a saw leaves them in patches, with a score now and then.
    r = r - 0.35 * deep * patchy * (teeth.clamp(min=0) ** 4 + 0.6 * (marks - 1.5).clamp(0, 1))
    pores = F.interpolate(normal(n, 1, h, w // 8), (h, w), mode="bilinear")
    rings = F.interpolate(normal(n, 1, h // 14, 2), (h, w), mode="bicubic").clamp(0, 1.5)
    crossed = 0.6 + 0.8 * teeth.clamp(min=0) * (deep > 0)
    r = r - some(0.25) * 0.7 * share() * (pores - 0.9).clamp(0, 1.2) * rings * crossed
    blots = F.interpolate(normal(n, 1, h // 20, w // 20), (h, w), mode="bicubic")
    r = r - some(0.2) * 0.5 * (blots - 1.2).clamp(0, 1)
    away = (u - w * share()) + 60 * normal(n, 1, 1, 1) * v
    wide = torch.exp(1.2 * share() + 0.2)
    stroke = torch.exp(-((away / wide) ** 2)) * (0.75 + 0.25 * normal(n, 1, h, w)).clamp(0, 1.3)
    ink = 1.2 * normal(n, 1, 1, 1) + 0.5 * normal(n, 3, 1, 1)
    return r + some(0.1) * stroke * ink


def _blurred(r: Tensor, device: torch.device) -> Tensor:
    """Blur a random half of the crops, not always alike both ways."""
    n = len(r)
    count = n // 2
    pick = torch.randperm(n, device=device)[:count]
    sigma = (0.3 + 1.3 * torch.rand(2)).tolist()
    taps = torch.arange(-4, 5, device=device).float()
    soft = r[pick]
    for axis, s in enumerate(sigma):
        kernel = torch.exp(-0.5 * (taps / s) ** 2)
        kernel = (kernel / kernel.sum()).view(1, 1, *((9, 1) if axis else (1, 9)))
        pad = (0, 0, 4, 4) if axis else (4, 4, 0, 0)
        soft = F.conv2d(F.pad(soft, pad, mode="replicate"), kernel.expand(3, 1, -1, -1), groups=3)
    return r.index_copy(0, pick, soft)
