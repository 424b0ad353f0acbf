"""Commands that look again before and between the cuts: assemble, ends, savings, milling, saws."""

# Annotations are read at run time by typer, so they may not be strings here.
from pathlib import Path
from typing import Annotated

import typer

from scanner.cli.common import Output, Units, app, bar, say

LayoutFile = Annotated[Path, typer.Argument(help="layout.json.")]
PartsFile = Annotated[Path, typer.Argument(help="Parts list, CSV or JSON.")]
BoardFiles = Annotated[
    list[Path], typer.Argument(help="board.json of each board; boards.csv of typed ones.")
]
ShopFile = Annotated[Path | None, typer.Option(help="Shop settings and prices (TOML).")]
Paper = Annotated[str, typer.Option(help="a4 or letter.")]


@app.command(
    epilog="Example: bothfaces assemble layout/layout.json parts.csv B01/board.json B02/board.json"
    " --group 'bench seat slat' --turn 2 -o assembled"
)
def assemble(
    layout: LayoutFile,
    parts: PartsFile,
    boards: BoardFiles,
    output: Output = Path("assembled"),
    group: Annotated[
        str | None, typer.Option(help="One group only; without it, every group there is.")
    ] = None,
    way: Annotated[
        str | None,
        typer.Option(help="edge-to-edge, stacked, upright or in-a-row."),
    ] = None,
    order: Annotated[
        str | None, typer.Option(help="The group's pieces in another order: 3,1,2.")
    ] = None,
    flip: Annotated[
        str | None, typer.Option(help="Pieces whose other face is up: 2 or 1,3.")
    ] = None,
    turn: Annotated[str | None, typer.Option(help="Pieces turned end for end: 2 or 1,3.")] = None,
    cost: Annotated[
        bool, typer.Option("--cost", help="Say too what a better match would cost in wood.")
    ] = False,
    shop: ShopFile = None,
    units: Units = "mm",
    paper: Paper = "a4",
) -> None:
    """Draw tops, drawer banks, doors or legs at true scale from the photographed wood."""
    from scanner.app.assemble_files import assemble_files

    with bar("assembling") as report:
        lines, written = assemble_files(
            layout,
            parts,
            tuple(boards),
            output,
            group=group,
            way=way,
            order=order,
            flip=flip,
            turn=turn,
            cost=cost,
            shop_file=shop,
            units=units,
            paper=paper,
            progress=report,
        )
    for line in lines:
        say(line)
    say(f"written: {len(written)} files in {output}")
