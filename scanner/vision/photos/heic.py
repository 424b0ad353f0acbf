"""Read a HEIC picture in a process of its own: a damaged one may bring its decoder down.

The decoder is compiled code that trusts what a file says of itself. A file damaged on its way from
the phone has been seen to end the whole process with it; here it ends the child only, and the
caller gets an `OSError` as over any other damaged picture.
"""

from __future__ import annotations

import base64
import json
import subprocess
import sys
import threading
from typing import TYPE_CHECKING

from PIL import Image

if TYPE_CHECKING:
    from collections.abc import Callable

# The brands of still pictures by ISO/IEC 23008-12 (HEIF), read off the file's first box.
_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"})
# A picture of 50 megapixels takes some seconds; a decoder that hangs is ended.
_LONGEST_S = 60.0


def is_heic(content: bytes) -> bool:
    """Say whether a file's first box names it a HEIF still picture."""
    return content[4:8] == b"ftyp" and content[8:12] in _BRANDS


def read_heic(content: bytes, look_at_size: Callable[[int, int], None]) -> Image.Image:
    """Return the decoded picture, turned as its own box says, with its EXIF.

    Parameters
    ----------
    content
        The file's bytes.
    look_at_size
        Called with width and height in pixels before anything is decoded; may raise.

    Raises
    ------
    OSError
        The picture is damaged, or its decoder died or hung over it.
    """
    command = [sys.executable, "-m", "scanner.vision.photos.heic"]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as child:
        clock = threading.Timer(_LONGEST_S, child.kill)
        clock.start()
        try:
            return _received(child, content, look_at_size)
        finally:
            clock.cancel()
            child.kill()


def _received(
    child: subprocess.Popen[bytes], content: bytes, look_at_size: Callable[[int, int], None]
) -> Image.Image:
    given, told = child.stdin, child.stdout
    if given is None or told is None:
        raise OSError("no pipe to the decoder")
    given.write(content)
    given.close()
    try:
        head = json.loads(told.readline())
    except ValueError:
        raise OSError("the decoder gave up") from None
    width, height = head["size"]
    look_at_size(width, height)
    pixels = told.read()
    if len(pixels) != width * height * len(head["mode"]):
        raise OSError("the decoder gave up half-way")
    picture = Image.frombytes(head["mode"], (width, height), pixels)
    picture.format = "HEIF"
    if head["exif"]:
        picture.info["exif"] = base64.b64decode(head["exif"])
    return picture


def _decode_here() -> None:
    """Decode standard input to standard output: a line of JSON, then the pixels row by row."""
    import io

    import pi_heif

    pi_heif.register_heif_opener()
    picture = Image.open(io.BytesIO(sys.stdin.buffer.read()))
    mode = "RGBA" if "A" in picture.mode else "RGB"
    exif = base64.b64encode(picture.info.get("exif") or b"").decode()
    head = {"size": picture.size, "mode": mode, "exif": exif}
    out = sys.stdout.buffer
    out.write(json.dumps(head).encode() + b"\n")
    out.flush()
    out.write((picture if picture.mode == mode else picture.convert(mode)).tobytes())


if __name__ == "__main__":
    _decode_here()
