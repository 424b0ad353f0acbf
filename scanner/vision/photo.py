"""Open a photo upright, cap its size, refuse what cannot be measured."""

from pathlib import Path

from scanner.vision.picture import Photo


def read_photo(path: Path) -> Photo:
    """Return the photo, turned upright once, at full size; PhotoError where it will not do."""
    raise NotImplementedError
