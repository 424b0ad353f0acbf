"""The tree of problems a user can meet: what happened, where, what to do.

ScannerError
├── PhotoError          a picture, or what is (not) seen in it
│   ├── TooNearError    taken from too near to measure a board
│   └── UnfitPhotoError a picture that is whole, but of a kind that nothing can be measured on
├── BoardError          a board, or its two faces
├── PartsListError      a parts list
├── SettingsError       shop settings or command options
├── PlacementError      parts and boards that cannot go together
├── FileError           reading and writing files
└── LotError            the lot file (storage)

Every message is one sentence for the user: it says what, where and what to do.
A programmer's mistake stays a ``ValueError``.
"""


class ScannerError(Exception):
    """A problem the user can mend; the command ends with exit status 2.

    Parameters
    ----------
    what
        What happened and where, without a full stop.
    mend
        What to do, without a full stop.

    Attributes
    ----------
    picture
        JPEG that shows why, where there is one.
    """

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(f"{what}: {mend}.")
        self.what = what
        self.mend = mend
        self.picture: bytes | None = None

    def __reduce__(
        self,
    ) -> tuple[type["ScannerError"], tuple[str, str], dict[str, bytes | None]]:
        # Scans run in other processes; the sentence alone would not make the error again there.
        return type(self), (self.what, self.mend), {"picture": self.picture}


class PhotoError(ScannerError):
    """A photograph cannot be read or does not show what is needed."""


class TooNearError(PhotoError):
    """All is seen in a photograph, from so near that no board can be measured on it."""


class UnfitPhotoError(PhotoError):
    """A picture can be read, but is too small, or a panorama: nothing can be measured on it."""


class BoardError(ScannerError):
    """A board's facts or its two faces do not go together."""


class PartsListError(ScannerError):
    """A parts list cannot be read or asks for the impossible."""


class SettingsError(ScannerError):
    """A shop setting or a command's option is wrong."""


class PlacementError(ScannerError):
    """Parts and boards cannot go together."""


class FileError(ScannerError):
    """A file cannot be read or written."""


class LotError(ScannerError):
    """The lot file cannot be opened or does not hold what is asked."""
