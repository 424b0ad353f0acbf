"""The command ``bothfaces``: read arguments, call ``app``, print, exit code."""

from scanner.cli import one_thread  # noqa: F401, I001 (before anything loads numpy)
from scanner.cli import photos, scan, layouts, second_look, pieces, marks, alike, yard, files  # noqa: F401 (help lists them in this order)
from scanner.cli.common import app
from scanner.cli.run import main

__all__ = ["app", "main"]
