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
from scanner.vision.training.held import SHALLOW, hold_all_but
from scanner.vision.training.net import OUTLINE_CLAIMS, UNet, export_onnx, outline_net
from scanner.vision.training.onnx_weights import put_back
from scanner.vision.training.outline_crops import Flat, draw_batch, read_flats
from scanner.vision.training.warm import warm_start

_MOST_RATE = 3e-3
_KEPT = 0.998  # of the running mean of the weights, a step
_BATCH = 32
# The face is what is traced; wane and side are told beside it.
_CLAIM_WEIGHTS = (1.0, 0.4, 0.4)
# Going on for wane: strips of bark are thin and rare, so a pixel of them weighs more.
_WANE_WEIGHTS, _WANE_PIXEL = (1.0, 1.0, 0.4), 4.0
# So its odds come out too large, by log 4 at the most. Taken off is what keeps the told wane as
# wide as it is without losing the thin strips again (the card says how it was chosen).
_WANE_OVER_TOLD = 0.5
_WARM_RATE = 1.0e-3
_CROPS_TO_START_ON = 32
_KEPT_BACK = 25


def _loss(net: UNet, drawn: tuple[Tensor, ...], for_wane: bool = False) -> Tensor:
    inputs, labels, weight = drawn
    on_gpu = inputs.device.type == "cuda"
    with torch.autocast(inputs.device.type, dtype=torch.bfloat16, enabled=on_gpu):
        logits = net(inputs.contiguous(memory_format=torch.channels_last))
    told = _WANE_WEIGHTS if for_wane else _CLAIM_WEIGHTS
    claims = torch.tensor(told, device=inputs.device).view(1, 3, 1, 1)
    if for_wane:
        weight = weight * (1 + (_WANE_PIXEL - 1) * labels[:, 1:2])
    each = functional.binary_cross_entropy_with_logits(logits.float(), labels, reduction="none")
    return (each * weight * claims).sum() / weight.sum()


def train(
    flats: list[Flat],
    minutes: float,
    seed: int,
    device: str,
    most_steps: int = 10**9,
    start: Path | None = None,
) -> UNet:
    """Return the running mean of the trained network's weights.

    With ``start`` training goes on from exported weights, in the shallow layers alone, for wane.
    """
    torch.manual_seed(seed)
    rng = np.random.default_rng(seed)
    net = outline_net().to(device)
    if start is not None:
        warm_start(net, start, draw_batch(flats, _CROPS_TO_START_ON, rng)[0])
        print(f"{hold_all_but(net, SHALLOW)} weights learn")
    net, _ = descend(
        net.to(memory_format=torch.channels_last),  # type: ignore[call-overload]
        lambda net: _loss(net, draw_batch(flats, _BATCH, rng), start is not None),
        minutes=minutes,
        most_rate=_MOST_RATE if start is None else _WARM_RATE,
        kept=_KEPT,
        most_steps=most_steps,
    )
    if start is not None:
        with torch.no_grad():
            assert net.head.bias is not None
            net.head.bias[OUTLINE_CLAIMS.index("wane")] -= _WANE_OVER_TOLD
    return net


def main() -> None:
    """Train once; tell the loss on faces that were kept back."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("-o", "--output", type=Path, required=True)
    parser.add_argument("--minutes", type=float, default=5.6)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--steps", type=int, default=10**9)
    parser.add_argument("--start", type=Path, help="go on from these exported weights, for wane")
    chosen = parser.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    flats = read_flats(chosen.folder, device)
    kept_back = flats[::_KEPT_BACK]
    learned = [flat for n, flat in enumerate(flats) if n % _KEPT_BACK]
    net = train(learned, chosen.minutes, chosen.seed, device, chosen.steps, chosen.start)
    rng = np.random.default_rng(0)
    with torch.no_grad():
        told = [float(_loss(net, draw_batch(kept_back, _BATCH, rng))) for _ in range(6)]
    print(f"{len(learned)} faces; loss on {len(kept_back)} kept back: {np.mean(told):.4f}")
    export_onnx(net, chosen.output, "logits")
    if chosen.start:
        made = put_back(chosen.output.read_bytes(), chosen.start.read_bytes())
        chosen.output.write_bytes(made)


if __name__ == "__main__":
    main()
