"""Checks drawn onto training crops: thin, wavering, of every width, from an end or on the face.

The renderer's own checks are all of one making. These are drawn straight into the pictures, real
wood too, so that a check is learned as a thin line without light, and not as one renderer's.
"""

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as F  # noqa: N812 (the field's name for it)
from torch import Tensor

from scanner.vision.training.targets import WOOD, bit

# Checks a crop, at the most, and how many crops get any.
_MOST, _SHARE = 3, 0.45
# Widths where they open most, px of 0.5 mm: 0.3 to 1.6 mm, thin ones oftener.
_WIDTHS_PX = (0.5, 3.2)
_LONG_PX = (30.0, 420.0)
# Thinner than this they cannot be asked for; neither should they be denied.
_LEAST_PX = 0.22
# A line shows so much further to either side than it is wide.
_SHOWN_PX = 1.1
_GAMMA = 2.2


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """Middle row and width, px, by crop, line and column (n, k, w)."""

    row: Tensor
    width: Tensor


def with_cracks(rgb: Tensor, code: Tensor) -> tuple[Tensor, Tensor]:
    """Return crops (n, 3, h, w) of 0..1 and their codes (n, h, w) with checks drawn in."""
    n, _, h, w = rgb.shape
    device = rgb.device
    lines = _drawn(n, h, w, (code & WOOD) > 0)
    v = torch.arange(h, device=device).view(1, h, 1).float()
    cover = torch.zeros((n, h, w), device=device)
    claimed = torch.zeros((n, h, w), dtype=torch.bool, device=device)
    unsure = torch.zeros_like(claimed)
    for k in range(_MOST):
        row, width = lines.row[:, k, None], lines.width[:, k, None]
        away = (v - row).abs()
        share = torch.minimum(width.clamp(max=1.0), (width / 2 + 0.5 - away).clamp(min=0.0))
        cover = torch.maximum(cover, share)
        near = (away < width / 2 + _SHOWN_PX) & (width > 0)
        claimed |= near & (width >= _LEAST_PX)
        unsure |= near & (width < _LEAST_PX)
    wood = (code & WOOD) > 0
    cover = _blurred(cover * wood)[:, None]
    dark = 0.12 * torch.rand((n, 1, 1, 1), device=device) ** 2
    # What lies over part of a pixel takes that part of its light.
    light = rgb.clamp(min=0.0) ** _GAMMA
    drawn = (light + (dark**_GAMMA - light).clamp(max=0.0) * cover) ** (1 / _GAMMA)
    code = torch.where(claimed & wood, code | bit("check"), code)
    code = torch.where(unsure & wood & ~claimed, code | bit("check", skip=True), code)
    return drawn, code


def _drawn(n: int, h: int, w: int, wood: Tensor) -> _Lines:
    device = wood.device

    def share(*size: int) -> Tensor:
        return torch.rand(size, device=device)

    u = torch.arange(w, device=device).view(1, 1, w).float()
    seen = wood.any(dim=2).float()  # rows that hold wood
    seen = seen + 1e-6
    row = torch.multinomial(seen, _MOST, replacement=True).float()
    picked = wood.gather(1, row.long()[:, :, None].expand(n, _MOST, w))
    columns = torch.arange(w, device=device).view(1, 1, w)
    first = torch.where(picked, columns, w).amin(dim=2).float()
    last = torch.where(picked, columns, -1).amax(dim=2).float()
    low, high = (math.log(v) for v in _LONG_PX)
    long = torch.exp(low + (high - low) * share(n, _MOST))
    # Where an end of the board is in the crop a check may start there.
    at_left, at_right = first > 6, last < w - 7
    pick = share(n, _MOST)
    from_left = at_left & (pick < 0.6)
    from_right = ~from_left & at_right & (pick < 0.6)
    middle = share(n, _MOST) * w
    along = torch.where(
        from_left[..., None],
        (u - first[..., None]) / long[..., None],
        torch.where(
            from_right[..., None],
            (last[..., None] - u) / long[..., None],
            2 * (u - middle[..., None]).abs() / long[..., None],
        ),
    )
    power = 0.4 + 0.6 * share(n, _MOST, 1)
    shape = (1 - along).clamp(min=0.0) ** power * (along > -0.01)
    least, most = (math.log(v) for v in _WIDTHS_PX)
    opens = torch.exp(least + (most - least) * share(n, _MOST, 1) ** 1.3)
    have = (share(n, 1, 1) < _SHARE) & (share(n, _MOST, 1) < 0.7)
    # Lips are never quite even, and now and then a fibre bridges them.
    knots = max(w // 12, 2)
    uneven = F.interpolate(torch.randn((n, _MOST, knots), device=device), w, mode="linear")
    width = opens * shape * (1 + 0.2 * uneven).clamp(0.15, 1.6) * have
    slope = 0.05 * torch.randn((n, _MOST, 1), device=device)
    wave = torch.zeros_like(shape)
    for _ in range(4):
        period = 25 + 320 * share(n, _MOST, 1)
        size = period * (0.002 + 0.008 * share(n, _MOST, 1))
        wave = wave + size * torch.sin(2 * math.pi * (u / period + share(n, _MOST, 1)))
    # En echelon: a check jumps aside by a fibre or two.
    jump = (share(n, _MOST, 1) < 0.3) * torch.sign(u - w * share(n, _MOST, 1))
    wave = wave + jump * 0.9 * torch.randn((n, _MOST, 1), device=device)
    return _Lines(row[..., None] + slope * (u - w / 2) + wave, width)


def _blurred(cover: Tensor) -> Tensor:
    """Return the cover (n, h, w) as a lens spreads it, each crop by its own."""
    n = len(cover)
    sigma = 0.35 + 0.9 * torch.rand((n, 1), device=cover.device)
    taps = torch.arange(-3, 4, device=cover.device).float()
    kernel = torch.exp(-0.5 * (taps / sigma) ** 2)
    kernel = kernel / kernel.sum(dim=1, keepdim=True)
    x = cover[None]
    x = F.conv2d(F.pad(x, (0, 0, 3, 3), mode="replicate"), kernel.view(n, 1, 7, 1), groups=n)
    x = F.conv2d(F.pad(x, (3, 3, 0, 0), mode="replicate"), kernel.view(n, 1, 1, 7), groups=n)
    return x[0]
