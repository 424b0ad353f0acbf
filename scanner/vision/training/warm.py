"""Training that goes on from weights that were exported: normalisation is put back in their place.

An exported network has its normalisation folded into the convolutions. Each normalisation is set
so that, on the crops it is first shown, it passes on what it gets; from there on it learns.
"""

from collections.abc import Callable
from pathlib import Path

import torch
from torch import Tensor, nn

from scanner.vision.training.net import ConvUnit, UNet
from scanner.vision.training.onnx_weights import initialisers


@torch.no_grad()
def warm_start(net: UNet, weights: Path, crops: Tensor) -> None:
    """Set a network to exported weights.

    Parameters
    ----------
    net
        Of the same shape; changed in place.
    weights
        ONNX that ``export_onnx`` wrote.
    crops
        (N, inputs, h, w) as drawn for training.
    """
    values = {
        name.removeprefix("0."): torch.from_numpy(value.copy())
        for name, value in initialisers(weights.read_bytes()).items()
    }
    hooks = []
    for name, part in net.named_modules():
        if isinstance(part, ConvUnit):
            part.conv.weight.copy_(values[f"{name}.conv.weight"])
            bias = values[f"{name}.conv.bias"].to(crops.device)
            hooks.append(part.norm.register_forward_pre_hook(_passing_on(bias)))
    net.head.weight.copy_(values["head.weight"])
    assert net.head.bias is not None
    net.head.bias.copy_(values["head.bias"])
    net.eval()
    net(crops)
    for hook in hooks:
        hook.remove()
    net.train()


def _passing_on(bias: Tensor) -> Callable[[nn.Module, tuple[Tensor]], None]:
    def hook(norm: nn.Module, given: tuple[Tensor]) -> None:
        assert isinstance(norm, nn.BatchNorm2d)
        assert norm.running_mean is not None
        assert norm.running_var is not None
        middle = given[0].mean(dim=(0, 2, 3))
        spread = given[0].var(dim=(0, 2, 3), unbiased=False)
        norm.running_mean.copy_(middle)
        norm.running_var.copy_(spread)
        norm.weight.copy_(torch.sqrt(spread + norm.eps))
        norm.bias.copy_(middle + bias)

    return hook
