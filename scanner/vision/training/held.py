"""Training that goes on in a few layers only: the rest of the weights stay bit for bit.

What a network has learned of real wood lies mostly in its deep layers. With those held, a few
renderings more cannot make it forget, and a new version of the file differs from the old one in a
tenth of its bytes.
"""

from collections.abc import Sequence

from torch import nn

from scanner.vision.training.net import ConvUnit, UNet

# The shallow half of the network: what a line or a rim looks like, at full and half size.
SHALLOW = (
    "stem",
    "down.0",
    "narrow.1",
    "narrow.2",
    "narrow.3",
    "join.1",
    "join.2",
    "join.3",
    "last",
    "head",
)


def hold_all_but(net: UNet, layers: Sequence[str]) -> int:
    """Hold every layer of a network but those named; return how many weights still learn.

    Normalisation of held layers keeps its means too. Raises ``ValueError`` where a name is none of
    the network's.
    """
    known = {name for name, _ in net.named_modules()}
    if missing := [name for name in layers if name not in known]:
        raise ValueError(f"the network has no layer {', '.join(missing)}")

    def learns(name: str) -> bool:
        return any(name == layer or name.startswith(f"{layer}.") for layer in layers)

    for name, part in net.named_modules():
        if isinstance(part, nn.BatchNorm2d | ConvUnit) and not learns(name):
            part.eval()
    for name, values in net.named_parameters():
        values.requires_grad_(learns(name))
    return sum(values.numel() for values in net.parameters() if values.requires_grad)
