"""The light of wood that lies flat: lines along the board that come and go, and spots."""

import cv2
import numpy as np


def grain(seed):
    """Return (320, 1280) light of wood: lines along the board that come and go."""
    rng = np.random.default_rng(seed)
    white = rng.standard_normal((320, 1280)).astype(np.float32)
    lines = cv2.GaussianBlur(white, (0, 0), 18, sigmaY=1.6)
    spots = cv2.GaussianBlur(rng.standard_normal(white.shape).astype(np.float32), (0, 0), 3)
    return 130 + 25 * lines / lines.std() + 14 * spots / spots.std()
