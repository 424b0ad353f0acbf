"""The command alike: sort a lot's boards by likeness to one of them."""

# Annotations are read at run time by typer, so they may not be strings here.
from pathlib import Path
from typing import Annotated

import typer

from scanner.cli.common import BOARDS, Output, app, bar, say


@app.command(epilog="Example: bothfaces alike boards --to B01 -o alike", rich_help_panel=BOARDS)
def alike(
    wood: Annotated[
        Path, typer.Argument(help="A lot file, or the folder that holds B01, B02 and so on.")
    ],
    to: Annotated[str, typer.Option(metavar="BOARD", help="The board to match.")],
    output: Output = Path("alike"),
) -> None:
    """Sort boards of one species by how like they look: colour, rings, figure.

    For a set that one board cannot give, and for the board that stands in
    when a part is spoiled. Writes alike.png, strips of the likest boards.
    """
    from scanner.app.fitting.alike import alike_boards
    from scanner.app.lot.likeness_in_lot import ROUGH

    with bar("alike") as report:
        answer = alike_boards(wood, to, output, progress=report)
    say(answer.chosen)
    for number, line in enumerate(answer.lines, 1):
        say(f"  {number}. {line.id}: {line.word}; {line.words}")
    say(ROUGH)
    say(f"written: {', '.join(path.name for path in answer.written)} in {output}")
