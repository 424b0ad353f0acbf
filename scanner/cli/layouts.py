"""Commands on boards and parts: place, stick, grade, tally, choose."""

# Annotations are read at run time by typer, so they may not be strings here.
from pathlib import Path
from typing import Annotated

import typer

from scanner.cli.common import (
    BOARDS,
    BUYING,
    LAYOUT,
    BoardFiles,
    Output,
    ShopUnits,
    Units,
    app,
    bar,
    say,
    units_said,
)
from scanner.cli.quiet import libraries_quiet

ShopFile = Annotated[Path | None, typer.Option(help="Shop settings and prices (TOML).")]


@app.command(
    epilog="Example: bothfaces place parts.csv B01/board.json B02/board.json -o layout"
    " · bothfaces place parts.csv ash.lot -o layout",
    rich_help_panel=LAYOUT,
)
def place(
    parts: Annotated[Path, typer.Argument(help="Parts list, CSV or JSON.")],
    boards: BoardFiles,
    output: Output = Path("layout"),
    shop: ShopFile = None,
    units: ShopUnits = None,
    seconds: Annotated[
        float | None,
        typer.Option(min=0.1, max=86_400, help="How long to search: 10 unless said."),
    ] = None,
    work: Annotated[
        int | None, typer.Option(min=1, help="Number of search steps instead: repeatable.")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Of the search.")] = 1,
    keep: Annotated[
        Path | None, typer.Option(help="A former layout.json: its locked and cut parts stay.")
    ] = None,
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
) -> None:
    """Place the parts on the boards: layout.json, board maps (PDF, PNG).

    Of a lot only the boards are taken, with what you said of them on the
    page: the parts list and --shop are the command's own. The lot itself
    stays as it is, and may be open on the page meanwhile.
    """
    from scanner.app.placing.former_sheets import former_sheets, take_away, taken_away_line
    from scanner.app.placing.place_parts import place_parts
    from scanner.app.placing.summaries import plan_lines

    if seconds is not None and work is not None:
        say("  note: --seconds has no effect beside --work, which counts steps")
    former = former_sheets(output)
    known = units_said(units, shop, parts, *boards)
    with bar("placing the parts") as report, libraries_quiet():
        result, written = place_parts(
            parts,
            tuple(boards),
            output,
            shop_file=shop,
            units=known,
            seconds=10.0 if seconds is None else seconds,
            work=work,
            seed=seed,
            keep=keep,
            paper=paper,
            progress=report,
        )
    for line in (*plan_lines(result), *taken_away_line(take_away(former, written))):
        say(line)
    say(f"written: {len(written)} files in {output}")


@app.command(
    epilog="Example: bothfaces stick layout/layout.json parts.csv B01/board.json -o B01-stick.pdf",
    rich_help_panel=LAYOUT,
)
def stick(
    layout: Annotated[Path, typer.Argument(help="layout.json.")],
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="PARTS BOARDS...",
            help="The parts list (CSV or JSON) and the boards (board.json, boards.csv or"
            " NAME.lot), in any order.",
        ),
    ],
    output: Annotated[Path, typer.Option("-o", "--output", help="PDF to write.")] = Path(
        "stick.pdf"
    ),
    board: Annotated[
        str | None, typer.Option(help="This board only; else all that the layout cuts.")
    ] = None,
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    units: Units = "mm",
    measured: Annotated[
        str | None,
        typer.Option(
            metavar="LENGTH",
            help="What the 250.0 mm between the joint lines of a former print really measure: this"
            " print makes up for it.",
        ),
    ] = None,
) -> None:
    """Make the boards' story sticks: full-size paper tapes with cuts and part labels (one PDF)."""
    from scanner.app.cutting.make_stick import make_stick
    from scanner.app.lot.given_boards import boards_and_parts

    boards, parts = boards_and_parts(files)
    for line in make_stick(
        layout,
        boards,
        parts,
        output,
        paper=paper,
        units=units,
        measured=measured,
        board_id=board,
    ):
        say(line)


@app.command(
    epilog="Example: bothfaces grade B01/board.json B02/board.json -o grades",
    rich_help_panel=BOARDS,
)
def grade(
    boards: Annotated[
        list[Path], typer.Argument(help="board.json, boards.csv or NAME.lot, in tally order.")
    ],
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", help="Folder for a picture of each board's cuttings."),
    ] = None,
    shop: ShopFile = None,
    units: ShopUnits = None,
) -> None:
    """Estimate each board's grade by the published NHLA rules; no inspection."""
    from scanner.app.buying.grade_boards import grade_boards

    lines, written = grade_boards(tuple(boards), output, units_said(units, shop, *boards), shop)
    for line in lines:
        say(line)
    if output is not None:
        say(f"written: {len(written)} pictures in {output}")


@app.command(
    epilog="Example: bothfaces tally B01/board.json typed.csv -o boards.csv", rich_help_panel=BOARDS
)
def tally(
    boards: Annotated[
        list[Path], typer.Argument(help="board.json, boards.csv or NAME.lot, in tally order.")
    ],
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="List to write (CSV).")
    ] = None,
    shop: ShopFile = None,
    units: ShopUnits = None,
    parts: Annotated[
        Path | None,
        typer.Option(
            help="Parts list: says which parts need thicker wood and what a bent board is good for."
        ),
    ] = None,
    bundle: Annotated[
        bool,
        typer.Option(
            "--bundle",
            help="Sizes as an export bundle is tallied, too: whole inches (exact halves up and"
            " down in turn) and whole feet.",
        ),
    ] = False,
) -> None:
    """Tally boards: size, flaws, surface measure, board feet, cost; and write them as a list."""
    from scanner.app.buying.tally_boards import tally_boards

    said = units_said(units, shop, parts, *boards)
    for line in tally_boards(tuple(boards), output, said, shop, parts, is_bundled=bundle):
        say(line)
    if output is not None:
        say(f"written: {output}")


@app.command(
    epilog="Example: bothfaces choose parts.csv boards.csv --budget 120", rich_help_panel=BUYING
)
def choose(
    parts: Annotated[Path, typer.Argument(help="Parts list, CSV or JSON.")],
    boards: Annotated[
        list[Path], typer.Argument(help="board.json, boards.csv or NAME.lot, with prices.")
    ],
    budget: Annotated[
        float | None, typer.Option(min=0, help="The boards may cost no more than this.")
    ] = None,
    surcharge: Annotated[
        float | None,
        typer.Option(
            min=0,
            metavar="PERCENT",
            help="What picking by hand costs more: held against boards taken as they come.",
        ),
    ] = None,
    shop: ShopFile = None,
    units: ShopUnits = None,
) -> None:
    """Say which boards to take: the cheapest set found that holds the parts."""
    from scanner.app.buying.choose_boards import which_boards

    known = units_said(units, shop, parts, *boards)
    with bar("choosing") as report, libraries_quiet():
        lines = which_boards(
            parts,
            tuple(boards),
            shop_file=shop,
            units=known,
            budget=budget,
            surcharge=None if surcharge is None else surcharge / 100,
            progress=report,
        )
    for line in lines:
        say(line)
