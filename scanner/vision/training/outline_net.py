"""The network behind traced outlines: a small U-Net over a flat face at 1 mm per pixel.

Only operations that OpenCV's dnn runs. Source of the shape: O. Ronneberger and others 2015,
"U-Net: convolutional networks for biomedical image segmentation".
"""

import copy
from pathlib import Path

import torch
from torch import Tensor, nn

from scanner.vision.training.net import Block, ConvUnit

# Three colours, whether a photo shows the pixel, and how far a side would show along x and y.
INPUTS = 6
CLAIMS = ("face", "wane", "side")
WIDTHS = (12, 24, 40, 64, 88)
_DEEP_BLOCKS = (0, 1, 1, 2, 2)


class OutlineNet(nn.Module):
    """Inputs (N, 6, H, W), H and W multiples of 16, to logits (N, 3, H, W)."""

    def __init__(self) -> None:
        super().__init__()
        self.stem = ConvUnit(INPUTS, WIDTHS[0])
        self.pool = nn.AvgPool2d(2)
        levels = range(1, len(WIDTHS))
        self.down = nn.ModuleList(
            nn.Sequential(
                ConvUnit(WIDTHS[level - 1], WIDTHS[level]),
                *(Block(WIDTHS[level]) for _ in range(_DEEP_BLOCKS[level])),
            )
            for level in levels
        )
        back = [level - 1 for level in reversed(levels)]
        self.narrow = nn.ModuleList(ConvUnit(WIDTHS[n + 1], WIDTHS[n], size=1) for n in back)
        self.join = nn.ModuleList(ConvUnit(2 * WIDTHS[n], WIDTHS[n]) for n in back)
        self.raise_ = nn.Upsample(scale_factor=2, mode="nearest")
        self.last = ConvUnit(WIDTHS[0], WIDTHS[0])
        self.head = nn.Conv2d(WIDTHS[0], len(CLAIMS), 1)

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


def export_onnx(net: OutlineNet, path: Path) -> None:
    """Write the network as ONNX, opset 17, free height and width, normalisation folded in."""
    plain = copy.deepcopy(net).cpu().float().eval()
    for part in plain.modules():
        if isinstance(part, ConvUnit):
            part.fuse()
    torch.onnx.export(
        plain,
        (torch.zeros(1, INPUTS, 64, 96),),
        str(path),
        opset_version=17,
        input_names=["face"],
        output_names=["logits"],
        dynamic_axes={"face": {2: "h", 3: "w"}, "logits": {2: "h", 3: "w"}},
        dynamo=False,
    )
