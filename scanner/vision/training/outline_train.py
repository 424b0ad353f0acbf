"""Train the outline's network and export it.

``python -m scanner.vision.training.outline_train FOLDER -o outline.onnx --minutes 5.6`` reads the
flat faces that ``tests.bench.learn_outlines`` wrote. Needs torch and a GPU; nothing here is
imported when the program runs.
"""

import argparse
from pathlib import Path

import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

from scanner.vision.training.descent import descend
from scanner.vision.training.net import UNet, export_onnx, outline_net
from scanner.vision.training.outline_crops import Flat, draw_batch, read_flats

_MOST_RATE = 3e-3
_KEPT = 0.998  # of the running mean of the weights, a step
_BATCH = 32
# The face is what is traced; wane and side are told beside it.
_CLAIM_WEIGHTS = (1.0, 0.4, 0.4)
_KEPT_BACK = 25


def _loss(net: UNet, drawn: tuple[Tensor, ...]) -> Tensor:
    inputs, labels, weight = drawn
    on_gpu = inputs.device.type == "cuda"
    with torch.autocast(inputs.device.type, dtype=torch.bfloat16, enabled=on_gpu):
        logits = net(inputs.contiguous(memory_format=torch.channels_last))
    claims = torch.tensor(_CLAIM_WEIGHTS, device=inputs.device).view(1, 3, 1, 1)
    each = functional.binary_cross_entropy_with_logits(logits.float(), labels, reduction="none")
    return (each * weight * claims).sum() / weight.sum()


def train(
    flats: list[Flat], minutes: float, seed: int, device: str, most_steps: int = 10**9
) -> UNet:
    """Return the running mean of the trained network's weights."""
    torch.manual_seed(seed)
    rng = np.random.default_rng(seed)
    net, _ = descend(
        outline_net().to(device, memory_format=torch.channels_last),
        lambda net: _loss(net, draw_batch(flats, _BATCH, rng)),
        minutes=minutes,
        most_rate=_MOST_RATE,
        kept=_KEPT,
        most_steps=most_steps,
    )
    return net


def main() -> None:
    """Train once; tell the loss on faces that were kept back."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("-o", "--output", type=Path, required=True)
    parser.add_argument("--minutes", type=float, default=5.6)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--steps", type=int, default=10**9)
    chosen = parser.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    flats = read_flats(chosen.folder, device)
    kept_back = flats[::_KEPT_BACK]
    learned = [flat for n, flat in enumerate(flats) if n % _KEPT_BACK]
    net = train(learned, chosen.minutes, chosen.seed, device, chosen.steps)
    rng = np.random.default_rng(0)
    with torch.no_grad():
        told = [float(_loss(net, draw_batch(kept_back, _BATCH, rng))) for _ in range(6)]
    print(f"{len(learned)} faces; loss on {len(kept_back)} kept back: {np.mean(told):.4f}")
    export_onnx(net, chosen.output, "logits")


if __name__ == "__main__":
    main()
