"""Write files all or none: beside their names first, then renamed; nothing half-written is left."""

import contextlib
import errno
import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from scanner.errors import FileError

FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
# Endings that promise a content. Any other may be a part of a name, as in "strip-2.5m".
_KINDS = {
    *(".csv", ".heic", ".html", ".jpeg", ".jpg", ".json", ".pdf", ".png", ".svg"),
    *(".tif", ".tiff", ".toml", ".txt", ".webp", ".xlsx", ".zip"),
}


def refuse_unwritable(folder: Path) -> None:
    """Refuse a folder that nothing can be written into, before slow work; leaves no trace.

    Raises
    ------
    FileError
        It is a file, may not be written, or the disk is full or read-only.
    """
    place = folder
    try:
        while not place.exists() and place != place.parent:
            place = place.parent
    except OSError as problem:
        raise _sentence(problem, folder) from problem
    if not place.is_dir():
        raise FileError(f"{place} is a file, not a folder", "choose another folder with -o")
    try:
        with tempfile.TemporaryFile(dir=place) as probe:
            probe.write(b"bothfaces")
            probe.flush()
    except OSError as problem:
        raise _sentence(problem, place) from problem


def refuse_given(
    output: Path, *given: Path | None, ending: str, holds: tuple[str, ...] = ()
) -> None:
    """Refuse an output that is somebody's own file: one that was given, or one of another kind.

    Parameters
    ----------
    given
        What the command reads; None where an option was left out.
    ending
        That of the kind of file that is written, ``.pdf``: it may take the place of such a file,
        or of one without an ending, but not of a ``board.json``, nor bear another kind's ending.
    holds
        Names that stand in every such file: the fields of a JSON, the columns of a CSV. A file
        that has not all of them is somebody's own, whatever its ending.

    Raises
    ------
    FileError
        It is such a file, by whatever name, or a folder, or its name is too long or another
        kind's.
    """
    try:
        is_folder = not output.name or output.is_dir()
    except OSError as problem:
        raise _sentence(problem, output) from problem
    if is_folder:
        raise FileError(f"{output} is a folder", "name a file in it with -o")
    for path in filter(None, given):
        with contextlib.suppress(OSError):
            if output.samefile(path):
                raise FileError(f"{output} is a file that you gave", "choose another name with -o")
    if output.suffix.lower() not in ("", ending.lower()) and output.exists():
        raise FileError(
            f"{output} is there already and is no {ending} file",
            f"choose a name that ends in {ending}",
        )
    if output.suffix.lower() in _KINDS - {ending.lower()}:
        raise FileError(
            f"{output.name} is no name for a {ending} file", f"choose a name that ends in {ending}"
        )
    if holds and output.exists() and not _has(output, holds):
        raise FileError(
            f"{output} is there already and holds something else", "choose another name with -o"
        )


def _has(path: Path, names: tuple[str, ...]) -> bool:
    """Return whether a JSON file has these fields, any other these words in its first line."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return False
    if path.suffix.lower() != ".json":
        first = text.lstrip().partition("\n")[0].lower()
        found = {cell.strip().strip('"') for cell in first.replace(";", ",").split(",")}
        if not text.lstrip().startswith("{"):
            return found.issuperset(names)
    try:
        record = json.loads(text)
    except (ValueError, RecursionError):
        return False
    return isinstance(record, dict) and record.keys() >= set(names)


def write_files(folder: Path, files: Mapping[str, bytes]) -> tuple[Path, ...]:
    """Write all the files into the folder (made if missing), or none of them.

    Parameters
    ----------
    files
        Name in the folder (``B01/board.json`` makes the folder B01) to content.

    Returns
    -------
    tuple of Path
        The files, in the order given. What had these names before is replaced.

    Raises
    ------
    FileError
        No permission, disk full, or a folder or file is in the way. What was there is unchanged.
    """
    targets = {name: _target(folder, name) for name in files}
    made: list[Path] = []
    staged: dict[Path, Path] = {}
    former: dict[Path, Path] = {}
    placed: list[Path] = []
    current = folder
    try:
        for name, content in files.items():
            current = target = targets[name]
            _make_folder(target.parent, made)
            if target.is_dir():
                raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(target))
            beside = target.with_name(f".{target.name}.{os.getpid()}.new")
            staged[target] = beside
            _write_through(beside, content)
        for target in staged:
            if target.exists():
                current = target
                former[target] = target.with_name(f".{target.name}.{os.getpid()}.old")
                _keep_copy(target, former[target])
        for target, beside in staged.items():
            current = target
            beside.replace(target)
            placed.append(target)
    except OSError as problem:
        _undo(placed, former, made, staged)
        raise _sentence(problem, current) from problem
    except BaseException:
        _undo(placed, former, made, staged)
        raise
    for old in former.values():
        old.unlink(missing_ok=True)
    for parent in {target.parent for target in targets.values()}:
        _sync_folder(parent)
    return tuple(targets.values())


def _target(folder: Path, name: str) -> Path:
    pure = PurePosixPath(name)
    if pure.is_absolute() or ".." in pure.parts or not pure.parts:
        raise ValueError(f"a file's name must stay inside the folder, got {name!r}")
    return folder.joinpath(*pure.parts)


def _make_folder(folder: Path, made: list[Path]) -> None:
    missing = []
    place = folder
    while not place.exists():
        missing.append(place)
        place = place.parent
    for new in reversed(missing):
        new.mkdir()
        made.append(new)
    if not place.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(place))


def _write_through(path: Path, content: bytes) -> None:
    with path.open("wb") as stream:
        stream.write(content)
        stream.flush()
        os.fsync(stream.fileno())


def _keep_copy(target: Path, copy: Path) -> None:
    try:
        os.link(target, copy)
    except OSError:
        # No hard links here (memory sticks): a real copy serves as well.
        shutil.copy2(target, copy)


def _undo(
    placed: list[Path], former: dict[Path, Path], made: list[Path], staged: dict[Path, Path]
) -> None:
    for target in placed:
        with contextlib.suppress(OSError):
            if target in former:
                former[target].replace(target)
            else:
                target.unlink(missing_ok=True)
    for leftover in (*staged.values(), *former.values()):
        with contextlib.suppress(OSError):
            leftover.unlink(missing_ok=True)
    for folder in reversed(made):
        with contextlib.suppress(OSError):
            folder.rmdir()


def _sync_folder(folder: Path) -> None:
    # The rename itself must reach the disk; some systems cannot open a folder, and need not.
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _sentence(problem: OSError, place: Path) -> FileError:
    if problem.errno in FULL:
        return FileError(
            f"the disk is full, so {place} was not written",
            "make room, or choose another folder with -o",
        )
    if problem.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return FileError(
            f"{place} may not be written",
            "choose another folder with -o, or change its permissions",
        )
    if isinstance(problem, (NotADirectoryError, FileExistsError)):
        blocked = problem.filename or place
        return FileError(f"{blocked} is a file, not a folder", "choose another folder with -o")
    if isinstance(problem, IsADirectoryError):
        return FileError(f"{place} is a folder, so no file can have its name", "move it away")
    reason = problem.strerror or "unknown reason"
    return FileError(f"{place} was not written ({reason})", "try again, or choose another folder")
