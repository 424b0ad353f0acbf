"""What the commands share: the program itself, options of one meaning, printing."""

# Annotations are read at run time by typer, so they may not be strings here.
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from scanner import __version__

# cv2, numba and reportlab load inside the command that needs them: `--help` stays quick.

app = typer.Typer(
    name="bothfaces",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    help="From photographs of both faces of rough boards to parts marked on them. Finding nothing"
    " is no promise of clear wood: look every board over yourself.",
)

# Under what heading `bothfaces --help` lists a command.
START, BOARDS, LAYOUT = "To begin", "Boards", "Parts and layout"
CUT, BUYING, FILES = "At the bench, and after the cut", "Buying", "Files and left-overs"

Output = Annotated[Path, typer.Option("-o", "--output", help="Folder to write into.")]
BoardFiles = Annotated[
    list[Path],
    typer.Argument(
        help="board.json of each board, boards.csv of typed ones, or NAME.lot: all boards of a lot"
        " as the page has them."
    ),
]
Rule = Annotated[
    str | None,
    typer.Option(metavar="LENGTH[xWIDTH[xTHICKNESS]]", help="A plain rule: 36in x 28mm x 1mm."),
]
Batten = Annotated[str | None, typer.Option(help="Thickness of the batten under the strip.")]
StripTaped = Annotated[
    str | None,
    typer.Option(
        metavar="L[xU]",
        help="Strip from zero to its last joint line, as taped; x1mm: give or take 1 mm.",
    ),
]
Units = Annotated[str, typer.Option(help="Unit of bare numbers: mm or inch.")]
# Of a command that takes --shop as well: None where nobody said it.
ShopUnits = Annotated[
    str | None,
    typer.Option(
        "--units",
        help="Unit of bare numbers: mm (unless said) or inch. Without --shop, inch also means the"
        " sizes of an inch shop, such as 1 in and 1/2 in of allowance.",
    ),
]


def units_said(
    units: str | None, shop: Path | None, *files: Path | None, typed: Iterable[str] = ()
) -> str:
    """Return the unit of bare numbers; says so where the shop's own is another and nobody chose.

    ``files`` and ``typed``: the lists and lengths in which such numbers may stand.
    """
    if units is None and shop is not None:
        from scanner.app.placing.place_parts import units_doubt

        for line in units_doubt(shop, [file for file in files if file], typed):
            say(f"  note: {line}")
    return units or "mm"


def say(line: str) -> None:
    """Print a line at once."""
    print(line, flush=True)


@contextmanager
def bar(title: str) -> Iterator[Any]:
    """Yield ``report(step, share)``, drawn as a progress bar on the terminal's error stream.

    Where that is no terminal nothing is drawn: a refusal is one sentence there, and nothing else.
    """
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description:<34}"), BarColumn(bar_width=28), TimeElapsedColumn())
    console = Console(stderr=True)
    with Progress(*columns, console=console, disable=not console.is_terminal) as progress:
        task = progress.add_task(title, total=1.0)

        def report(step: str, share: float) -> None:
            progress.update(task, description=f"{title}: {step}"[:48], completed=share)

        yield report


def _show_version(wanted: bool) -> None:
    if wanted:
        print(f"bothfaces {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    pass
