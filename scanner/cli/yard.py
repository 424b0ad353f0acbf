"""Commands before and after the cut: buy, yard-card, movement, stock."""

# Annotations are read at run time by typer, so they may not be strings here.
from pathlib import Path
from typing import Annotated

import typer

from scanner.cli.common import BUYING, FILES, Output, ShopUnits, Units, app, bar, say, units_said
from scanner.cli.quiet import libraries_quiet


@app.command(
    epilog="Example: bothfaces buy parts.csv --grade FAS -o how-much.png", rich_help_panel=BUYING
)
def buy(
    parts: Annotated[Path, typer.Argument(help="Parts list, CSV or JSON.")],
    boards: Annotated[
        list[Path] | None,
        typer.Argument(
            help="Your own boards (board.json, boards.csv, NAME.lot): lots are drawn from them"
            " instead of from a grade."
        ),
    ] = None,
    grade: Annotated[
        str | None, typer.Option(help="Grade at the yard: FAS (unless said), Selects, 1C or 2A.")
    ] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="Picture of the chances (PNG).")
    ] = None,
    shop: Annotated[Path | None, typer.Option(help="Shop settings (TOML).")] = None,
    units: ShopUnits = None,
    trials: Annotated[int, typer.Option(max=10_000, help="Simulated lots for each species.")] = 40,
    seed: Annotated[int, typer.Option(help="Of the simulated lots.")] = 1,
    scheduler: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Work on the Dask cluster at this address."),
    ] = None,
) -> None:
    """Say how many board feet to buy, the chance that everything fits, which widths to ask for."""
    from scanner.app.buying.buy_wood import buy_wood

    known = units_said(units, shop, parts, *(boards or ()))
    with bar("buying") as report, libraries_quiet():
        lines = buy_wood(
            parts,
            tuple(boards or ()),
            grade=grade,
            shop_file=shop,
            units=known,
            trials=trials,
            seed=seed,
            picture=output,
            scheduler=scheduler,
            progress=report,
        )
    for line in lines:
        say(line)
    if output is not None:
        say(f"written: {output}")


@app.command(
    "yard-card",
    epilog="Example: bothfaces yard-card parts.csv --units inch -o card",
    rich_help_panel=BUYING,
)
def yard_card(
    parts: Annotated[Path, typer.Argument(help="Parts list, CSV or JSON.")],
    output: Output = Path("yard-card"),
    layout: Annotated[
        Path | None, typer.Option(help="A layout.json: what it placed is not looked for.")
    ] = None,
    shop: Annotated[Path | None, typer.Option(help="Shop settings (TOML).")] = None,
    units: ShopUnits = None,
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    budget: Annotated[
        float | None, typer.Option(min=0, help="Money for it all: gives the highest prices.")
    ] = None,
) -> None:
    """Make the card for the yard: what is still to find, which widths, how straight (PDF, HTML)."""
    from scanner.app.buying.make_yard_card import make_yard_card

    written = make_yard_card(
        parts,
        output,
        layout_file=layout,
        shop_file=shop,
        units=units_said(units, shop, parts),
        paper=paper,
        budget=budget,
    )
    for path in written:
        say(f"written: {path}")


@app.command(
    epilog="Example: bothfaces movement 12in --species 'white ash' --from 6 --to 11",
    rich_help_panel=BUYING,
)
def movement(
    width: Annotated[str, typer.Argument(help="Width of the part, across the grain.")],
    species: Annotated[str, typer.Option(help="Species, as in the Wood Handbook.")],
    start: Annotated[float, typer.Option("--from", min=0, help="Moisture content now, per cent.")],
    stop: Annotated[float, typer.Option("--to", min=0, help="Moisture content later, per cent.")],
    units: Units = "mm",
) -> None:
    """Say how much a wide part grows or shrinks between two moisture contents."""
    from scanner.app.buying.wood_movement import movement_lines

    for line in movement_lines(width, species, start, stop, units):
        say(line)


stock_commands = typer.Typer(
    no_args_is_help=True,
    help="Left-overs: keep them with their flaws and pictures, find them again.",
)
app.add_typer(
    stock_commands,
    name="stock",
    epilog="Example: bothfaces stock find stock 18in 4in",
    rich_help_panel=FILES,
)


@stock_commands.command(
    "keep", epilog="Example: bothfaces stock keep layout/layout.json B01/board.json -o stock"
)
def stock_keep(
    layout: Annotated[Path, typer.Argument(help="layout.json with the left-overs.")],
    boards: Annotated[
        list[Path], typer.Argument(help="Boards of the layout: board.json or NAME.lot.")
    ],
    output: Output = Path("stock"),
    units: Units = "mm",
) -> None:
    """Put a layout's left-overs into stock, each as a board of its own.

    A piece that is in stock already is not kept twice and stays as it is.
    """
    from scanner.app.cutting.keep_stock import keep_left_overs

    for line in keep_left_overs(layout, tuple(boards), output, units):
        say(line)
    say(f"written: {output}")


@stock_commands.command(
    "find", epilog="Example: bothfaces stock find stock 18in 4in --species 'white ash'"
)
def stock_find(
    folder: Annotated[Path, typer.Argument(help="Folder of the stock.")],
    length: Annotated[str, typer.Argument(help="Length of the piece, with the grain.")],
    width: Annotated[str, typer.Argument(help="Width of the piece.")],
    species: Annotated[str | None, typer.Option(help="This species only.")] = None,
    units: Units = "mm",
) -> None:
    """Find left-overs free of found flaws over at least this size, the smallest first."""
    from scanner.app.cutting.keep_stock import find_in_stock

    found = find_in_stock(folder, length, width, species, units)
    for line in found or ("nothing in stock gives that",):
        say(line)
