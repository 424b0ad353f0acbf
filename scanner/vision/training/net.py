"""The network: a small U-Net over a face at 0.5 mm per pixel, one sigmoid a claim.

Only operations that OpenCV's dnn runs: Conv, Relu, Add, AveragePool, Concat, Resize, Sigmoid.
Source of the shape: O. Ronneberger and others 2015, "U-Net: convolutional networks for biomedical
image segmentation"; of the blocks: K. He and others 2016, "Deep residual learning".
"""

import copy
from pathlib import Path

import torch
from torch import Tensor, nn
from torch.nn.utils.fusion import fuse_conv_bn_eval

from scanner.vision.flaws.learned_maps import CHANNELS

WIDTHS = (16, 32, 56, 88, 112)
_DEEP_BLOCKS = (0, 1, 1, 2, 3)


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


class FlawNet(nn.Module):
    """Pixels (N, 3, H, W), H and W multiples of 16, to logits (N, len(CHANNELS), H, W)."""

    def __init__(self, widths: tuple[int, ...] = WIDTHS) -> None:
        super().__init__()
        self.stem = ConvUnit(3, widths[0])
        self.pool = nn.AvgPool2d(2)
        self.down = nn.ModuleList()
        for level in range(1, len(widths)):
            blocks = [Block(widths[level]) for _ in range(_DEEP_BLOCKS[level])]
            self.down.append(nn.Sequential(ConvUnit(widths[level - 1], widths[level]), *blocks))
        self.narrow = nn.ModuleList()
        self.join = nn.ModuleList()
        for level in range(len(widths) - 2, -1, -1):
            self.narrow.append(ConvUnit(widths[level + 1], widths[level], size=1))
            self.join.append(ConvUnit(2 * widths[level], widths[level]))
        self.raise_ = nn.Upsample(scale_factor=2, mode="nearest")
        self.last = ConvUnit(widths[0], widths[0])
        self.head = nn.Conv2d(widths[0], len(CHANNELS), 1)
        # Flaws are rare: starting from "no" everywhere keeps the first steps calm.
        nn.init.constant_(self.head.bias, -3.0)

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


class Shares(nn.Module):
    """The network with its sigmoid, as it is exported."""

    def __init__(self, net: FlawNet) -> None:
        super().__init__()
        self.net = net

    def forward(self, x: Tensor) -> Tensor:
        """Return shares 0..1."""
        return torch.sigmoid(self.net(x))


def export_onnx(net: FlawNet, path: Path) -> None:
    """Write the network as ONNX, opset 17, free height and width, normalisation folded in."""
    plain = copy.deepcopy(net).cpu().float().eval()
    for part in plain.modules():
        if isinstance(part, ConvUnit):
            part.fuse()
    torch.onnx.export(
        Shares(plain).eval(),
        (torch.zeros(1, 3, 64, 96),),
        str(path),
        opset_version=17,
        input_names=["face"],
        output_names=["shares"],
        dynamic_axes={"face": {2: "h", 3: "w"}, "shares": {2: "h", 3: "w"}},
        dynamo=False,
    )
