"""Train the learned finder's network and export it.

``python -m scanner.vision.training.train FOLDER... -o flaws.onnx --minutes 8`` reads training
faces (`scanner.vision.training.faces`, and `tests.bench.learn_faces` for rendered ones). With
``--fold 0 --folds 4`` the boards of that fold are left out and named in ``flaws.json``. Needs torch
and a GPU; nothing here is imported when the program runs.
"""

import argparse
import json
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import count, repeat
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch
from torch import Tensor

from scanner.vision.flaws.learned_maps import CHANNELS, clear_wood
from scanner.vision.training.augment import Atlas, draw_batch
from scanner.vision.training.descent import descend
from scanner.vision.training.faces import TrainingFace, read_faces
from scanner.vision.training.halve import halved
from scanner.vision.training.held import SHALLOW, hold_all_but
from scanner.vision.training.losses import loss_of
from scanner.vision.training.net import UNet, export_onnx, flaw_net
from scanner.vision.training.onnx_weights import put_back
from scanner.vision.training.targets import WOOD, Planes, planes
from scanner.vision.training.warm import warm_start

# How often a crop is drawn round a mark of each kind.
_GROUPS = {
    "knot sound": 0.24,
    "knot loose": 0.22,
    "check": 0.18,
    "resin": 0.15,
    "pith": 0.08,
    "hole": 0.04,
    "bark_pocket": 0.03,
    "stain": 0.03,
    "other": 0.03,
}
_MOST_RATE = 2.5e-3
_WARM_RATE = 1.2e-3
_CROPS_TO_START_ON = 32
_KEPT = 0.999  # of the running mean of the weights, a step


def fold_of_boards(faces: Sequence[TrainingFace], folds: int) -> dict[str, int]:
    """Return the fold of each real board; long boards are dealt out first, so folds are alike."""
    columns: dict[str, int] = {}
    for face in faces:
        if face.source == "real":
            columns[face.board] = columns.get(face.board, 0) + face.pixels.shape[1]
    dealt: dict[str, int] = {}
    filled = [0] * folds
    for board in sorted(columns, key=lambda b: (-columns[b], b)):
        fold = int(np.argmin(filled))
        dealt[board] = fold
        filled[fold] += columns[board]
    return dealt


def _group(flaw: dict[str, Any]) -> str:
    kind = str(flaw["kind"])
    if kind == "knot":
        return "knot sound" if flaw.get("sound") else "knot loose"
    same = {"split": "check", "shake": "check", "pitch": "resin", "seam": "other", "wane": "other"}
    return same.get(kind, kind)


def _worse(pixels: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return the picture after a messenger: smaller, packed hard, and back."""
    rows, columns = pixels.shape[:2]
    share = rng.uniform(0.55, 0.95)
    small = cv2.resize(pixels, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    _, packed = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, int(rng.uniform(35, 75))])
    again = np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR))
    return cv2.resize(again, (columns, rows), interpolation=cv2.INTER_CUBIC)


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """A face ready for the atlas: pixels in two grades of JPEG, targets, the row they start at."""

    grades: tuple[np.ndarray, np.ndarray]
    planes: Planes
    low: int
    middle: float
    clear: np.ndarray


def _laid(face: TrainingFace, rows: int, seed: int) -> _Laid:
    made = planes(face)
    low = (rows - face.pixels.shape[0]) // 2
    pad = ((low, rows - face.pixels.shape[0] - low), (0, 0))
    worse = _worse(face.pixels, np.random.default_rng(seed))
    good, bad = (np.pad(one, (*pad, (0, 0)), mode="edge") for one in (face.pixels, worse))
    wood = (made.code & WOOD) > 0
    middle = low + float(np.flatnonzero(wood.any(1)).mean())
    clear = clear_wood(face.pixels, wood)
    padded = Planes(np.pad(made.code, pad), np.pad(made.core, pad), np.pad(made.weight, pad))
    return _Laid((good, bad), padded, low, middle, clear)


def build_atlas(
    faces: Sequence[TrainingFace], rendered_share: float, device: str, seed: int = 0
) -> Atlas:
    """Return all faces with their targets on the device.

    ``rendered_share`` is how much of what is drawn comes from rendered faces.
    """
    rng = np.random.default_rng(seed)
    rows = max(face.pixels.shape[0] for face in faces)
    rows += -rows % 16
    length = [face.pixels.shape[1] for face in faces]
    start = np.concatenate([[0], np.cumsum(length)]).astype(int)
    rgb = torch.empty((2, 3, rows, sum(length)), dtype=torch.uint8, device=device)
    code = torch.empty(rgb.shape[2:], dtype=torch.int32, device=device)
    core, weight = (torch.empty(rgb.shape[2:], dtype=torch.uint8, device=device) for _ in "cw")
    middle: list[float] = []
    clear: list[np.ndarray] = []
    anchors: list[tuple[int, float, float]] = []
    groups: list[tuple[str, str]] = []
    with ThreadPoolExecutor() as pool:
        laid = pool.map(_laid, faces, repeat(rows), count(1000 * seed))
        for number, (face, one) in enumerate(zip(faces, laid, strict=False)):
            columns = slice(start[number], start[number + 1])
            for version, pixels in enumerate(one.grades):
                rgb[version, :, :, columns] = torch.from_numpy(pixels).permute(2, 0, 1)
            for whole, name in ((code, "code"), (core, "core"), (weight, "weight")):
                whole[:, columns] = torch.from_numpy(getattr(one.planes, name))
            middle.append(one.middle)
            clear.append(one.clear)
            for flaw in face.flaws:
                points = np.asarray(flaw.get("polygon") or np.reshape(flaw["box"], (2, 2)))
                x, y = rng.uniform(points.min(0), points.max(0))
                anchors.append((number, x, y + one.low))
                groups.append((_group(flaw), face.source))

    sources = [face.source for face in faces]
    shares = {"real": 1.0 - rendered_share, "rendered": rendered_share}
    counts = {g: groups.count(g) for g in set(groups)}
    anchor_odds = [_GROUPS[g[0]] * shares[g[1]] / counts[g] for g in groups]
    metres = {s: sum(n for n, t in zip(length, sources, strict=True) if t == s) for s in shares}
    face_odds = [shares[s] * n / metres[s] for n, s in zip(length, sources, strict=True)]

    def tensor(values: object) -> Tensor:
        return torch.as_tensor(np.asarray(values), dtype=torch.float32, device=device)

    return Atlas(
        rgb=rgb,
        code=code,
        core=core,
        weight=weight,
        start=tensor(start[:-1]),
        length=tensor(length),
        middle=tensor(middle),
        clear=tensor(clear),
        anchors=tensor(anchors),
        anchor_odds=tensor(anchor_odds),
        face_odds=tensor(face_odds),
    )


def train(
    atlas: Atlas,
    minutes: float,
    batch_size: int,
    seed: int,
    most_steps: int = 10**9,
    start: Path | None = None,
    layers: Sequence[str] | None = None,
) -> tuple[UNet, list[tuple[int, float]]]:
    """Return the network (running mean of its weights) and its loss every 100 steps.

    With ``start`` training goes on from exported weights, at a lower rate; with ``layers`` in
    these alone.
    """
    torch.manual_seed(seed)
    device = atlas.rgb.device
    net = flaw_net().to(device)
    if start is not None:
        warm_start(net, start, draw_batch(atlas, _CROPS_TO_START_ON).x)
    if layers is not None:
        print(f"{hold_all_but(net, layers)} weights learn")

    def loss_of_draw(net: UNet) -> Tensor:
        batch = draw_batch(atlas, batch_size)
        on_gpu = device.type == "cuda"
        with torch.autocast(device.type, dtype=torch.bfloat16, enabled=on_gpu):
            logits = net(batch.x.contiguous(memory_format=torch.channels_last))
        return loss_of(logits.float(), batch)

    return descend(
        net.to(memory_format=torch.channels_last),  # type: ignore[call-overload]
        loss_of_draw,
        minutes=minutes,
        most_rate=_MOST_RATE if start is None else _WARM_RATE,
        kept=_KEPT,
        most_steps=most_steps,
    )


def main() -> None:
    """Train once."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("-o", "--output", type=Path, required=True)
    parser.add_argument("--minutes", type=float, default=8.0)
    parser.add_argument("--batch", type=int, default=32)
    parser.add_argument("--steps", type=int, default=10**9)
    parser.add_argument("--fold", type=int, default=-1)
    parser.add_argument("--folds", type=int, default=4)
    parser.add_argument("--rendered-share", type=float, default=0.2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start", type=Path, help="go on from these exported weights")
    parser.add_argument("--shallow", action="store_true", help="hold the deep layers as they are")
    parser.add_argument("--halve", action="store_true", help="write weights in half precision")
    chosen = parser.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    faces = [face for folder in chosen.folders for face in read_faces(folder)]
    dealt = fold_of_boards(faces, chosen.folds)
    left_out = sorted(b for b, fold in dealt.items() if fold == chosen.fold)
    kept = [face for face in faces if face.board not in left_out]
    atlas = build_atlas(kept, chosen.rendered_share, device, chosen.seed)
    print(f"{len(kept)} faces, {atlas.code.shape[1]} columns, left out {len(left_out)} boards")
    net, told = train(
        atlas,
        chosen.minutes,
        chosen.batch,
        chosen.seed,
        chosen.steps,
        chosen.start,
        SHALLOW if chosen.shallow else None,
    )
    export_onnx(net, chosen.output, "shares")
    if chosen.halve:
        chosen.output.write_bytes(halved(chosen.output.read_bytes()))
    if chosen.shallow and chosen.start:
        made = put_back(chosen.output.read_bytes(), chosen.start.read_bytes())
        chosen.output.write_bytes(made)
    note = {
        "left_out": left_out,
        "losses": told,
        "seed": chosen.seed,
        "minutes": chosen.minutes,
        "faces": len(kept),
        "rendered_share": chosen.rendered_share,
        "channels": CHANNELS,
    }
    chosen.output.with_suffix(".json").write_text(json.dumps(note), encoding="utf-8")


if __name__ == "__main__":
    main()
