"""Read the manifest of a sample set: boards, their photos, what was taped."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from scanner.errors import FileError

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class SampleBoard:
    """One board of a sample set; texts as a person would type them, photo paths whole."""

    id: str
    species: str
    thickness: str
    photos_1: tuple[Path, ...]
    photos_2: tuple[Path, ...]
    options: dict[str, str]


class _Photos(BaseModel):
    model_config = ConfigDict(extra="ignore")
    face_1: Annotated[list[str], Field(alias="1", min_length=1)]
    face_2: Annotated[list[str], Field(alias="2")] = []


class _Board(BaseModel):
    # The manifest also holds the truth, which only tests read.
    model_config = ConfigDict(extra="ignore")
    id: str
    species: str
    thickness: str
    photos: _Photos
    scan: dict[str, str] = {}


class _Manifest(BaseModel):
    model_config = ConfigDict(extra="ignore")
    boards: Annotated[list[_Board], Field(min_length=1)]


def read_sample_set(folder: Path) -> tuple[SampleBoard, ...]:
    """Return the boards of the set in a folder with a ``manifest.json``.

    Raises
    ------
    FileError
        The manifest is missing or cannot be read.
    """
    path = folder / "manifest.json"
    try:
        manifest = _Manifest.model_validate_json(path.read_bytes())
    except OSError:
        raise FileError(
            f"there is no sample set in {folder}", "run this from a clone of the project"
        ) from None
    except ValidationError as problem:
        first = problem.errors()[0]
        where = ".".join(str(step) for step in first["loc"])
        raise FileError(
            f"{path} cannot be read at {where or 'its start'}", "restore the file from the project"
        ) from None
    return tuple(
        SampleBoard(
            id=board.id,
            species=board.species,
            thickness=board.thickness,
            photos_1=tuple(folder / name for name in board.photos.face_1),
            photos_2=tuple(folder / name for name in board.photos.face_2),
            options=dict(board.scan),
        )
        for board in manifest.boards
    )
