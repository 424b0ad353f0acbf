"""Run a command as a user does, in this process: status, what it printed, what it complained."""

import sys
from dataclasses import dataclass

from scanner.cli import main


@dataclass(frozen=True)
class Ran:
    status: int
    out: str
    err: str

    @property
    def sentence(self) -> str:
        """The complaint without the progress bar's lines."""
        return self.err.strip().splitlines()[-1] if self.err.strip() else ""


def run(capsys, monkeypatch, *arguments: object) -> Ran:
    monkeypatch.setattr(sys, "argv", ["bothfaces", *map(str, arguments)])
    capsys.readouterr()
    try:
        main()
        status = 0
    except SystemExit as stop:
        status = int(stop.code or 0)
    said = capsys.readouterr()
    return Ran(status, said.out, said.err)
