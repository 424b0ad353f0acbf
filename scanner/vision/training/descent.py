"""One way to train both networks: by the clock, with a running mean of the weights."""

import copy
import math
import time
from collections.abc import Callable

import torch
from torch import Tensor

from scanner.vision.training.net import UNet

_LEAST_RATE = 1e-6
_WARM_STEPS = 200
_TOLD_STEPS = 100


def descend(
    net: UNet,
    loss_of_draw: Callable[[UNet], Tensor],
    *,
    minutes: float,
    most_rate: float,
    kept: float,
    most_steps: int = 10**9,
) -> tuple[UNet, list[tuple[int, float]]]:
    """Return the running mean of the trained network's weights, and its loss every 100 steps.

    The rate falls along a cosine over the given time, so a slower machine trains fewer steps and
    still ends calmly.

    Parameters
    ----------
    loss_of_draw
        Draws a batch and returns the network's loss on it.
    most_rate
        The rate at its highest.
    kept
        How much of the running mean a step leaves.
    """
    mean = copy.deepcopy(net).eval()
    optimiser = torch.optim.AdamW(net.parameters(), lr=1e-4, weight_decay=0.02)
    begun, told, losses = time.monotonic(), [], []
    for step in range(most_steps):
        done = (time.monotonic() - begun) / (60 * minutes)
        if done >= 1:
            break
        rate = most_rate * min(1.0, (step + 1) / _WARM_STEPS)
        for group in optimiser.param_groups:
            group["lr"] = rate * (0.5 + 0.5 * math.cos(math.pi * done)) + _LEAST_RATE
        loss = loss_of_draw(net)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()  # type: ignore[no-untyped-call]
        torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        optimiser.step()
        _follow(mean, net, min(kept, step / (step + 10.0)))
        losses.append(loss.detach())
        if step % _TOLD_STEPS == _TOLD_STEPS - 1:
            told.append((step + 1, float(torch.stack(losses).mean())))
            losses.clear()
            spent = time.monotonic() - begun
            print(f"{spent:.0f} s, step {step + 1}: {told[-1][1]:.4f}", flush=True)
    return mean, told


@torch.no_grad()
def _follow(mean: UNet, net: UNet, kept: float) -> None:
    """Move the running mean of the weights and of the normalisation a little towards the net."""
    theirs, ours = [], []
    for a, b in zip(mean.state_dict().values(), net.state_dict().values(), strict=True):
        if a.is_floating_point():
            theirs.append(a)
            ours.append(b)
    torch._foreach_lerp_(theirs, ours, 1.0 - kept)
