"""How wrong the network's logits are on a batch."""

import torch
import torch.nn.functional as F  # noqa: N812 (the field's name for it)
from torch import Tensor

from scanner.vision.flaws.learned_maps import CHANNELS
from scanner.vision.training.augment import Batch
from scanner.vision.training.targets import SKIP, SOME, WEIGHT_UNIT, WOOD

# How much a pixel that holds the claim weighs against one that does not: lines are thin and rare.
_YES_WEIGHT = {"check": 4.0, "resin": 3.0, "pith": 3.0, "hole": 2.0, "bark_pocket": 2.0}
_CLAIM_WEIGHT = {"spot": 1.0, "core": 0.6, "loose": 0.25}
_OTHER_CLAIM_WEIGHT = 0.5
_BY_AREA = ("spot", "check", "resin", "pith", "stain")
# What lies round the board matters less: it is masked out when the network is used.
_OFF_WOOD = 0.25


def loss_of(logits: Tensor, batch: Batch) -> Tensor:
    """Return the loss of logits (N, C, h, w)."""
    by_instance = (batch.weight / WEIGHT_UNIT).clamp(min=0.5)
    wood = (batch.code & WOOD) > 0
    place = torch.where(wood, 1.0, _OFF_WOOD)
    total = logits.new_zeros(())
    for number, name in enumerate(CHANNELS):
        z = logits[:, number]
        yes = ((batch.code >> number) & 1).float()
        known = 1.0 - ((batch.code >> (number + SKIP)) & 1).float()
        weight = known * place
        target = batch.core / 255.0 if name == "core" else yes
        if name in ("spot", "core", "loose"):
            weight = weight * by_instance
        if name in _YES_WEIGHT:
            weight = weight * (1.0 + (_YES_WEIGHT[name] - 1.0) * yes)
        cross = F.binary_cross_entropy_with_logits(z, target, reduction="none")
        part = (cross * weight).sum() / weight.sum().clamp(min=1.0)
        if name == "spot":
            part = part * 4.0 + 0.5 * _missed_area(z, yes, weight)
        elif name in _BY_AREA:
            part = part * 4.0 + 0.3 * _missed_area(z, yes, weight)
        total = total + _CLAIM_WEIGHT.get(name, _OTHER_CLAIM_WEIGHT) * part
        if name in SOME:
            total = total + 0.02 * _missed_boxes(z, (batch.code & SOME[name]) > 0)
    return total


def _missed_area(z: Tensor, yes: Tensor, weight: Tensor) -> Tensor:
    """Return one less the weighted overlap over the whole batch (Dice)."""
    share = torch.sigmoid(z)
    both = (share * yes * weight).sum()
    either = ((share + yes) * weight).sum()
    return 1.0 - (2.0 * both + 1.0) / (either + 1.0)


def _missed_boxes(z: Tensor, inside: Tensor) -> Tensor:
    """Return how unsure the best pixel in each column of a box is: the flaw runs through it."""
    columns = inside.any(dim=1)
    if not columns.any():
        return z.new_zeros(())
    best = z.masked_fill(~inside, -20.0).amax(dim=1)
    return F.softplus(-best[columns]).mean()
