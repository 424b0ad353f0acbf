"""Commands that look again before and between the cuts: assemble, ends, savings, milling."""

# Annotations are read at run time by typer, so they may not be strings here.
from pathlib import Path
from typing import Annotated

import typer

from scanner.cli.common import (
    LAYOUT,
    BoardFiles,
    Output,
    ShopUnits,
    app,
    bar,
    say,
    units_said,
)
from scanner.cli.quiet import libraries_quiet

LayoutFile = Annotated[Path, typer.Argument(help="layout.json.")]
PartsFile = Annotated[Path, typer.Argument(help="Parts list, CSV or JSON.")]
ShopFile = Annotated[Path | None, typer.Option(help="Shop settings and prices (TOML).")]
Paper = Annotated[str, typer.Option(help="a4 or letter.")]


@app.command(
    epilog="Example: bothfaces assemble layout/layout.json parts.csv B01/board.json B02/board.json"
    " --group 'bench leg' --turn 2 -o assembled",
    rich_help_panel=LAYOUT,
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
    slide: Annotated[
        str | None,
        typer.Option(
            metavar="N=LENGTH", help="Pieces slid along their board, - towards end A: 2=40mm,3=-1cm"
        ),
    ] = None,
    into_layout: Annotated[
        bool,
        typer.Option(
            "--into-layout",
            help="Cut the pieces so: layout.json is written, or why not is said. --slide does too.",
        ),
    ] = False,
    cost: Annotated[
        bool, typer.Option("--cost", help="Say too what a better match would cost in wood.")
    ] = False,
    shop: ShopFile = None,
    units: ShopUnits = None,
    paper: Paper = "a4",
) -> None:
    """Draw tops, drawer banks, doors or legs at true scale from the photographed wood."""
    from scanner.app.fitting.assemble_files import assemble_files
    from scanner.app.fitting.dry_fit import ByHand

    slid = [one.partition("=")[2].strip(" -") for one in (slide or "").split(",")]
    known = units_said(units, shop, parts, *boards, typed=slid)
    with bar("assembling") as report, libraries_quiet():
        lines, written = assemble_files(
            layout,
            parts,
            tuple(boards),
            output,
            group=group,
            way=way,
            by_hand=ByHand(order, flip, turn, slide),
            into_layout=into_layout,
            cost=cost,
            shop_file=shop,
            units=known,
            paper=paper,
            progress=report,
        )
    for line in lines:
        say(line)
    say(f"written: {len(written)} files in {output}")


@app.command(
    epilog="Example: bothfaces ends layout/layout.json parts.csv B01/board.json B02/board.json",
    rich_help_panel=LAYOUT,
)
def ends(
    layout: LayoutFile,
    parts: PartsFile,
    boards: BoardFiles,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="JSON file to write.")
    ] = None,
    shop: ShopFile = None,
    units: ShopUnits = None,
) -> None:
    """Say how much more each end may lose, which part is lost with it, and where that part goes."""
    from scanner.app.cutting.lasting_ends import ends_from_files

    known = units_said(units, shop, parts, *boards)
    for line in ends_from_files(
        layout, parts, tuple(boards), output=output, shop_file=shop, units=known
    ):
        say(line)
    if output is not None:
        say(f"written: {output}")


@app.command(
    epilog="Example: bothfaces savings layout/layout.json parts.csv B01/board.json B02/board.json",
    rich_help_panel=LAYOUT,
)
def savings(
    layout: LayoutFile,
    parts: PartsFile,
    boards: BoardFiles,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", help="Folder for savings.json and each layout found."),
    ] = None,
    trials: Annotated[int, typer.Option(min=1, help="How many layouts may be tried.")] = 40,
    shop: ShopFile = None,
    units: ShopUnits = None,
) -> None:
    """Name the three cheapest changes of the parts list that save a board or place a part."""
    from scanner.app.placing.save_a_board import savings_from_files

    known = units_said(units, shop, parts, *boards)
    with bar("savings") as report, libraries_quiet():
        lines = savings_from_files(
            layout,
            parts,
            tuple(boards),
            output,
            trials=trials,
            shop_file=shop,
            units=known,
            progress=report,
        )
    for line in lines:
        say(line)
    if output is not None:
        say(f"written: {output}")


@app.command(
    epilog="Example: bothfaces milling layout/layout.json parts.csv B01/board.json B02/board.json"
    " --rest 7 --glue-up 'bench leg=2027-03-01' -o milling",
    rich_help_panel=LAYOUT,
)
def milling(
    layout: LayoutFile,
    parts: PartsFile,
    boards: BoardFiles,
    output: Output = Path("milling"),
    over: Annotated[
        str | None,
        typer.Option(help="What the first pass leaves over the final thickness (3 mm)."),
    ] = None,
    rest: Annotated[
        int, typer.Option(min=0, help="Days between the passes: 0, 1, 3, 7, 14; makers disagree.")
    ] = 3,
    stickers: Annotated[
        bool, typer.Option("--stickers/--no-stickers", help="Whether the pieces rest on stickers.")
    ] = True,
    begin: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day of the first pass, without glue-ups.")
    ] = None,
    glue_up: Annotated[
        list[str] | None,
        typer.Option(metavar="PART=DATE", help="Day a part (or all) is glued up (repeat)."),
    ] = None,
    shop: ShopFile = None,
    units: ShopUnits = None,
    paper: Paper = "a4",
) -> None:
    """Plan the milling: batches by thickness, both passes, setup pieces, rest and days (PDF)."""
    from scanner.app.cutting.milling import milling_files

    lines, written = milling_files(
        layout,
        parts,
        tuple(boards),
        output,
        over=over,
        rest_days=rest,
        stickers=stickers,
        begin=begin,
        glue_up=tuple(glue_up or ()),
        shop_file=shop,
        units=units_said(units, shop, parts, *boards, typed=[over or ""]),
        paper=paper,
    )
    for line in lines:
        say(line)
    say(f"written: {len(written)} files in {output}")
