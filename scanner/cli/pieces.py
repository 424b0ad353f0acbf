"""Commands on later photos: piece, end-grain, edge."""

# Annotations are read at run time by typer, so they may not be strings here.
from pathlib import Path
from typing import Annotated

import typer

from scanner.cli.common import CUT, Batten, Output, Rule, StripTaped, Units, app, say

_TAPS = (
    '"x,y x,y x,y x,y" in photo px, face 1 up: upper left, upper right, lower right, lower left.'
)
Corners = Annotated[str, typer.Option(help=f"The four corners, {_TAPS}")]
BoardFile = Annotated[Path | None, typer.Option(help="board.json to write anew once you confirm.")]
SideRule = Annotated[
    str | None,
    typer.Option(
        metavar="LENGTHxWIDTH", help="A plain rule in the same plane, where no card or strip is."
    ),
]
RuleCorners = Annotated[
    str | None, typer.Option(help="The rule's corners in the photo, round it from its zero end.")
]
Confirm = Annotated[
    bool, typer.Option("--confirm", help="You looked, and it is right: write the board anew.")
]


@app.command(
    epilog="Example: bothfaces piece leg.jpg B01/board.json B02/board.json --layout"
    " layout/layout.json --thickness 24mm -o found",
    rich_help_panel=CUT,
)
def piece(
    photo: Annotated[Path, typer.Argument(help="The piece beside strip or rule.")],
    boards: Annotated[
        list[Path] | None, typer.Argument(help="board.json of each board it may be of.")
    ] = None,
    output: Output = Path("piece"),
    layout: Annotated[
        Path | None, typer.Option(help="layout.json it was cut by; without it you are asked.")
    ] = None,
    lot: Annotated[Path | None, typer.Option(help="Lot file instead of boards and layout.")] = None,
    thickness: Annotated[
        str,
        typer.Option(
            help="Of the piece now. A caliper's reading, like 24mm, is kept with the board; 4/4 is"
            " not."
        ),
    ] = "4/4",
    rule: Rule = None,
    batten: Batten = None,
    strip_taped: StripTaped = None,
    take: Annotated[
        int | None, typer.Option(min=1, help="Which of the listed places you say it is.")
    ] = None,
    confirm: Confirm = False,
    units: Units = "mm",
) -> None:
    """Find a crosscut, trimmed or planed piece again on its board, by outline, knots and grain.

    Says where it lay, or asks; never takes a place for sure that another
    fits nearly as well. What a person said of flaws stays.
    """
    from scanner.app.later.find_piece import find_piece
    from scanner.app.scanning.scan_request import TypedOptions, scan_request

    typed = TypedOptions(
        thickness=thickness, rule=rule, batten=batten, strip_taped=strip_taped, units=units
    )
    answer = find_piece(
        scan_request("piece", photo, None, typed),
        tuple(boards or ()),
        output,
        layout=layout,
        lot=lot,
        take=take,
        is_confirmed=confirm,
    )
    for line in answer.lines:
        say(line)
    say(f"written: {', '.join(path.name for path in answer.written)} in {output}")


@app.command(
    "end-grain",
    epilog="Example: bothfaces end-grain a.jpg --at A --corners"
    ' "210,300 1620,310 1615,520 205,512" --leg 45mm -o end-grain',
    rich_help_panel=CUT,
)
def end_grain(
    photo: Annotated[Path, typer.Argument(help="A fresh end with a card or strip in its plane.")],
    at: Annotated[str, typer.Option(help="Which end: A or B.")],
    corners: Corners,
    output: Output = Path("end-grain"),
    board: BoardFile = None,
    leg: Annotated[
        str | None, typer.Option(help="Width of a leg: where its rings run corner to corner.")
    ] = None,
    rule: SideRule = None,
    rule_corners: RuleCorners = None,
    trimmed: Annotated[
        str | None,
        typer.Option(help="The fresh face is clean, and this much came off in all: 30mm."),
    ] = None,
    confirm: Confirm = False,
    units: Units = "mm",
) -> None:
    """Read the rings on an end: their angle, heart side, pith, cup, where legs come from.

    What is read is a guess until you have looked at the picture it
    writes: the strokes must lie along the rings. Cracks are not looked
    for there: with --trimmed you say that the fresh face has none.
    """
    from scanner.app.later.read_end import TypedSide, read_end

    typed = TypedSide(corners, rule, rule_corners, units)
    answer = read_end(
        photo, typed, at, output, board=board, leg=leg, trimmed=trimmed, is_confirmed=confirm
    )
    for line in answer.lines:
        say(line)
    say(f"written: {', '.join(path.name for path in answer.written)} in {output}")


@app.command(
    epilog='Example: bothfaces edge edge.jpg --corners "120,410 2980,395 2984,470 121,486"'
    " --board B01/board.json -o edges",
    rich_help_panel=CUT,
)
def edge(
    photo: Annotated[Path, typer.Argument(help="An edge with the strip beside it, in its plane.")],
    corners: Corners,
    output: Output = Path("edges"),
    board: BoardFile = None,
    rule: SideRule = None,
    rule_corners: RuleCorners = None,
    confirm: Confirm = False,
    units: Units = "mm",
) -> None:
    """Read thickness at five places and the grain's slope through the board off an edge.

    Confirmed, the thinnest place becomes the board's thickness, from
    which the layout reckons what flattening leaves.
    """
    from scanner.app.later.read_edge import read_edge
    from scanner.app.later.read_end import TypedSide

    typed = TypedSide(corners, rule, rule_corners, units)
    answer = read_edge(photo, typed, output, board=board, is_confirmed=confirm)
    for line in answer.lines:
        say(line)
    say(f"written: {', '.join(path.name for path in answer.written)} in {output}")
