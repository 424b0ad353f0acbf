"""The networks: small U-Nets over a flat face, one answer a claim and pixel.

Only operations that OpenCV's dnn runs: Conv, Relu, Add, AveragePool, Concat, Resize, Sigmoid.
Source of the shape: O. Ronneberger and others 2015, "U-Net: convolutional networks for biomedical
image segmentation"; of the blocks: K. He and others 2016, "Deep residual learning".
"""

import copy
from collections.abc import Sequence
from pathlib import Path

import torch
from torch import Tensor, nn
from torch.nn.utils.fusion import fuse_conv_bn_eval

from scanner.vision.flaws.learned_maps import CHANNELS

# What the outline's network is shown: three colours, whether a photo shows the pixel, and how far
# a side would show along x and y; and what it answers.
OUTLINE_INPUTS = 6
OUTLINE_CLAIMS = ("face", "wane", "side")


class ConvUnit(nn.Module):
    """A 3 x 3 convolution with its normalisation and, mostly, a ReLU."""

    def __init__(self, inside: int, outside: int, *, bends: bool = True, size: int = 3) -> None:
        super().__init__()
        self.conv = nn.Conv2d(inside, outside, size, padding=size // 2, bias=False)
        self.norm: nn.Module = nn.BatchNorm2d(outside)
        self.bend = nn.ReLU() if bends else nn.Identity()

    def forward(self, x: Tensor) -> Tensor:
        """Return the unit's answer."""
        return self.bend(self.norm(self.conv(x)))

    def fuse(self) -> None:
        """Fold the normalisation into the convolution (evaluation only)."""
        if isinstance(self.norm, nn.BatchNorm2d):
            self.conv = fuse_conv_bn_eval(self.conv, self.norm)
            self.norm = nn.Identity()


class Block(nn.Module):
    """Two units whose answer is added to what came in."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.first = ConvUnit(width, width)
        self.second = ConvUnit(width, width, bends=False)
        self.bend = nn.ReLU()

    def forward(self, x: Tensor) -> Tensor:
        """Return the block's answer."""
        return self.bend(x + self.second(self.first(x)))


class UNet(nn.Module):
    """Inputs (N, inputs, H, W), H and W multiples of 16, to logits (N, claims, H, W).

    ``widths`` and ``blocks`` are a level's channels and residual blocks, five levels each.
    """

    def __init__(
        self, inputs: int, claims: int, widths: Sequence[int], blocks: Sequence[int]
    ) -> None:
        super().__init__()
        self.inputs = inputs
        self.stem = ConvUnit(inputs, widths[0])
        self.pool = nn.AvgPool2d(2)
        levels = range(1, len(widths))
        self.down = nn.ModuleList(
            nn.Sequential(
                ConvUnit(widths[level - 1], widths[level]),
                *(Block(widths[level]) for _ in range(blocks[level])),
            )
            for level in levels
        )
        back = [level - 1 for level in reversed(levels)]
        self.narrow = nn.ModuleList(ConvUnit(widths[n + 1], widths[n], size=1) for n in back)
        self.join = nn.ModuleList(ConvUnit(2 * widths[n], widths[n]) for n in back)
        self.raise_ = nn.Upsample(scale_factor=2, mode="nearest")
        self.last = ConvUnit(widths[0], widths[0])
        self.head = nn.Conv2d(widths[0], claims, 1)

    def forward(self, x: Tensor) -> Tensor:
        """Return logits."""
        kept = [self.stem(x)]
        for step in self.down:
            kept.append(step(self.pool(kept[-1])))
        y = kept.pop()
        for narrow, join in zip(self.narrow, self.join, strict=True):
            y = join(torch.cat([self.raise_(narrow(y)), kept.pop()], dim=1))
        logits: Tensor = self.head(self.last(y))
        return logits


def flaw_net() -> UNet:
    """Return the network that flaws are told by: colours to one logit for each of `CHANNELS`."""
    net = UNet(3, len(CHANNELS), (16, 32, 56, 88, 112), (0, 1, 1, 2, 3))
    # Flaws are rare: starting from "no" everywhere keeps the first steps calm.
    nn.init.constant_(net.head.bias, -3.0)  # type: ignore[arg-type]
    return net


def outline_net() -> UNet:
    """Return the network that outlines are traced from."""
    return UNet(OUTLINE_INPUTS, len(OUTLINE_CLAIMS), (12, 24, 40, 64, 88), (0, 1, 1, 2, 2))


def export_onnx(net: UNet, path: Path, answer: str) -> None:
    """Write the network as ONNX, opset 17, free height and width, normalisation folded in.

    ``answer``: "logits", or "shares" to end in a sigmoid.
    """
    plain = copy.deepcopy(net).cpu().float().eval()
    for part in plain.modules():
        if isinstance(part, ConvUnit):
            part.fuse()
    whole = nn.Sequential(plain, nn.Sigmoid()) if answer == "shares" else plain
    torch.onnx.export(
        whole.eval(),
        (torch.zeros(1, net.inputs, 64, 96),),
        str(path),
        opset_version=17,
        input_names=["face"],
        output_names=[answer],
        dynamic_axes={"face": {2: "h", 3: "w"}, answer: {2: "h", 3: "w"}},
        dynamo=False,
    )
