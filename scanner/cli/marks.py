"""The command marks: hold what is drawn on a board against its layout, before the saw."""

# Annotations are read at run time by typer, so they may not be strings here.
from pathlib import Path
from typing import Annotated

import typer

from scanner.cli.common import CUT, Batten, Output, Rule, StripTaped, Units, app, bar, say


@app.command(
    epilog="Example: bothfaces marks marked.jpg B01/board.json layout/layout.json"
    " --strip-taped 2501mm -o marks",
    rich_help_panel=CUT,
)
def marks(
    photo: Annotated[Path, typer.Argument(help="The board with the parts drawn on one face.")],
    board: Annotated[Path, typer.Argument(help="board.json of that board.")],
    layout: Annotated[Path, typer.Argument(help="layout.json it was drawn from.")],
    output: Output = Path("marks"),
    face: Annotated[
        int | None, typer.Option(min=1, max=2, help="Which face it is, if not found by itself.")
    ] = None,
    rule: Rule = None,
    batten: Batten = None,
    strip_taped: StripTaped = None,
    taped: Annotated[
        str | None, typer.Option(metavar="L[xU]", help="The board's length, as taped.")
    ] = None,
    units: Units = "mm",
) -> None:
    """Say which lines drawn on a board are off by more than 6 mm, missing, or turned round.

    Looks at lines of white, yellow, red, blue or green chalk or crayon along
    the parts; black crayon and pencil are not seen.
    """
    from scanner.app.cutting.hold_marks import hold_marks
    from scanner.app.scanning.scan_request import TypedOptions, scan_request

    typed = TypedOptions(
        rule=rule,
        batten=batten,
        strip_taped=strip_taped,
        taped=taped,
        units=units,
    )
    request = scan_request("marks", photo, None, typed)
    with bar("marks") as report:
        answer = hold_marks(request, board, layout, output, face=face, progress=report)
    say(f"face {answer.face}")
    for line in answer.lines:
        say(f"  {line}")
    say(f"written: {', '.join(path.name for path in answer.written)} in {output}")
