"""Read arguments, call ``app``, print, exit code."""

# Annotations are read at run time by typer, so they may not be strings here.
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer

from scanner import __version__
from scanner.errors import ScannerError

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

Output = Annotated[Path, typer.Option("-o", "--output", help="Folder to write into.")]
Units = Annotated[str, typer.Option(help="Unit of bare numbers: mm or inch.")]


def main() -> None:
    """Run the command ``bothfaces``: status 0 done, 1 a bug, 2 the user can mend it."""
    try:
        app()
    except ScannerError as problem:
        _refuse(problem)
    except KeyboardInterrupt:
        print("stopped; nothing half-written was left", file=sys.stderr)
        raise SystemExit(130) from None


def _refuse(problem: ScannerError) -> NoReturn:
    print(problem, file=sys.stderr)
    raise SystemExit(2) from None


@contextmanager
def _bar(title: str) -> Iterator[Any]:
    """Yield ``report(step, share)``, drawn as a progress bar on the terminal's error stream."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description:<34}"), BarColumn(bar_width=28), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=False) as progress:
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


@app.command(epilog="Example: bothfaces demo --no-page")
def demo(
    page: Annotated[
        bool, typer.Option("--page/--no-page", help="Start the page at the end.")
    ] = True,
    output: Output = Path("out/demo"),
) -> None:
    """Do the main job on sample_images/: scan the boards, place the parts, draw the sheets."""
    from scanner.app.demo import run_demo

    run_demo(output, say=_say, bar=_bar)
    if page:
        _start_page(output / "demo.lot", port=None, lan=False)


@app.command(epilog="Example: bothfaces page --lot ash.lot")
def page(
    lot: Annotated[Path | None, typer.Option(help="Lot file to open; made if missing.")] = None,
    lan: Annotated[
        bool,
        typer.Option("--lan", help="Let phones on the same network in (not only this machine)."),
    ] = False,
    port: Annotated[int | None, typer.Option(min=1024, max=65535, help="Port.")] = None,
) -> None:
    """Start the page on 127.0.0.1 and print its address."""
    _start_page(lot, port=port, lan=lan)


def _start_page(lot: Path | None, *, port: int | None, lan: bool) -> None:
    """Run the page as a program of its own: streamlit stays out of this one."""
    import importlib.util
    import subprocess

    if importlib.util.find_spec("streamlit") is None:
        print("The page needs streamlit: install bothfaces[page].", file=sys.stderr)
        raise SystemExit(2)
    arguments = [sys.executable, "-m", "ui.launch"]
    arguments += ["--lot", str(lot)] if lot else []
    arguments += ["--port", str(port)] if port else []
    arguments += ["--lan"] if lan else []
    try:
        raise SystemExit(subprocess.run(arguments, check=False).returncode)
    except KeyboardInterrupt:
        raise SystemExit(0) from None


@app.command(epilog="Example: bothfaces strip --length 8ft --paper letter -o strip.pdf")
def strip(
    length: Annotated[str, typer.Option(help="Shortest strip wanted: 8ft, 12ft, 2.5 m.")] = "8ft",
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    output: Annotated[Path, typer.Option("-o", "--output", help="PDF to write.")] = Path(
        "strip.pdf"
    ),
    second: Annotated[bool, typer.Option("--second", help="The second strip (B).")] = False,
    arm: Annotated[bool, typer.Option("--arm", help="The cross arm as well.")] = False,
    cards: Annotated[int, typer.Option(min=0, max=38, help="How many board cards.")] = 0,
    measured: Annotated[
        str | None,
        typer.Option(
            metavar="L[xU]",
            help="What the 250.0 mm line (and the upright 180.0 mm line) of a former print really"
            " measures: this print makes up for it.",
        ),
    ] = None,
) -> None:
    """Make the printable coded strip, cross arm and board cards."""
    from scanner.app.make_strip import make_strip

    made = make_strip(length, paper, output, second=second, arm=arm, cards=cards, measured=measured)
    for line in made:
        _say(line)


@app.command("try", epilog="Example: bothfaces try front.jpg")
def try_(
    photo: Annotated[Path, typer.Argument(help="One photo of a board with strip or rule.")],
    rule: Annotated[
        str | None,
        typer.Option(metavar="LENGTH[xWIDTH[xTHICKNESS]]", help="A plain rule: 36in x 28mm x 1mm."),
    ] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="JSON file to write.")
    ] = None,
    units: Units = "mm",
) -> None:
    """Say whether a photo will do, and what would make it better."""
    from scanner.app.try_photo import trial_lines, try_photo

    for line in trial_lines(try_photo(photo, rule, output, units)):
        _say(line)


@app.command(
    epilog="Example: bothfaces scan front.jpg back.jpg --thickness 4/4 --species 'white ash'"
    " --strip-taped 2501mm -o B01"
)
def scan(
    face1: Annotated[Path, typer.Argument(help="Photo of face 1.")],
    face2: Annotated[Path | None, typer.Argument(help="Photo of face 2.")] = None,
    output: Output = Path("board"),
    more1: Annotated[
        list[Path] | None, typer.Option(help="Further photo of face 1, from another side (repeat).")
    ] = None,
    more2: Annotated[
        list[Path] | None, typer.Option(help="Further photo of face 2 (repeat).")
    ] = None,
    thickness: Annotated[str, typer.Option(help="4/4 (rough) or as measured: 27mm.")] = "4/4",
    species: Annotated[str, typer.Option(help="Species.")] = "unknown",
    rule: Annotated[
        str | None,
        typer.Option(metavar="LENGTH[xWIDTH[xTHICKNESS]]", help="A plain rule: 36in x 28mm x 1mm."),
    ] = None,
    rule2: Annotated[str | None, typer.Option(help="A second plain rule in the picture.")] = None,
    rule_on: Annotated[
        str, typer.Option(help="Where strip or rule lies: floor or face.")
    ] = "floor",
    batten: Annotated[
        str | None, typer.Option(help="Thickness of the batten under the strip.")
    ] = None,
    strip_taped: Annotated[
        str | None,
        typer.Option(metavar="L[xU]", help="Strip from zero to its last joint line, as taped."),
    ] = None,
    taped: Annotated[
        str | None,
        typer.Option(metavar="L[xU]", help="The board's length along its middle, as taped."),
    ] = None,
    corners1: Annotated[
        str | None,
        typer.Option(help='Rule corners in FACE1: "x,y x,y x,y x,y", from its zero end.'),
    ] = None,
    corners2: Annotated[str | None, typer.Option(help="Rule corners in FACE2.")] = None,
    bow: Annotated[
        str | None,
        typer.Option(
            help="Bow: + face 1 hollow, - crowned; <12mm: unknown, but no more than this."
        ),
    ] = None,
    cup: Annotated[str | None, typer.Option(help="Cup: + face 1 hollow, - crowned.")] = None,
    twist: Annotated[str | None, typer.Option(help="Height of the fourth corner.")] = None,
    profile: Annotated[
        Path | None, typer.Option(help="File of camera profiles: used, and improved by this scan.")
    ] = None,
    board_id: Annotated[str, typer.Option("--id", help="The board's name.")] = "B01",
    units: Units = "mm",
) -> None:
    """Scan one board: photos of both faces in, board.json and flat faces out."""
    from scanner.app.scan_board import scan_board
    from scanner.app.scan_request import TypedOptions, scan_request
    from scanner.app.summaries import board_lines

    typed = TypedOptions(
        thickness=thickness,
        species=species,
        rule=rule,
        rule2=rule2,
        rule_on=rule_on,
        batten=batten,
        strip_taped=strip_taped,
        taped=taped,
        corners_1=corners1,
        corners_2=corners2,
        bow=bow,
        cup=cup,
        twist=twist,
        units=units,
        profile=str(profile) if profile else None,
        more_1=tuple(more1 or ()),
        more_2=tuple(more2 or ()),
    )
    request = scan_request(board_id, face1, face2, typed)
    with _bar(board_id) as report:
        result = scan_board(request, output, report)
    for line in board_lines(result.board, units):
        _say(line)
    for line in result.advice:
        _say(f"  note: {line}")
    _say(f"written: {output / 'board.json'}")


@app.command(epilog="Example: bothfaces look scan.png --mm-per-px 0.4 -o found.json")
def look(
    picture: Annotated[Path, typer.Argument(help="A face square on: flatbed scan, line camera.")],
    mm_per_px: Annotated[float, typer.Option("--mm-per-px", help="Millimetres a pixel.")],
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="JSON file to write.")
    ] = None,
) -> None:
    """Find outline and possible flaws on a picture that is already flat, either way up."""
    from scanner.app.look_at import look_at

    looked = look_at(picture, mm_per_px, output)
    if output is None:
        _say(looked.json())
    else:
        _say(f"{len(looked.flaws)} possible flaws; what was not found is not proven clear")
        _say(f"written: {output}")


@app.command(
    epilog="Example: bothfaces trust B01/board.json=2440mm B02/board.json=96in"
    " --profile phones.json"
)
def trust(
    taped: Annotated[
        list[str], typer.Argument(metavar="BOARD.json=LENGTH[xU]...", help="Boards as taped.")
    ],
    profile: Annotated[Path, typer.Option(help="Camera profiles that the scans were made with.")],
    units: Units = "mm",
) -> None:
    """Hold scanned lengths against the tape, to see whether U holds with this phone and strip."""
    from scanner.app.prove_scale import proof_lines, prove_scale

    for line in proof_lines(prove_scale(taped, profile, units)):
        _say(line)


@app.command(epilog="Example: bothfaces place parts.csv B01/board.json B02/board.json -o layout")
def place(
    parts: Annotated[Path, typer.Argument(help="Parts list, CSV or JSON.")],
    boards: Annotated[
        list[Path], typer.Argument(help="board.json of each board; boards.csv of typed ones.")
    ],
    output: Output = Path("layout"),
    shop: Annotated[Path | None, typer.Option(help="Shop settings (TOML).")] = None,
    units: Units = "mm",
    seconds: Annotated[float, typer.Option(min=0.1, help="How long to search.")] = 10.0,
    work: Annotated[
        int | None, typer.Option(min=1, help="Number of search steps instead: repeatable.")
    ] = None,
    seed: Annotated[int, typer.Option(help="Of the search.")] = 1,
    keep: Annotated[
        Path | None, typer.Option(help="A former layout.json: its locked and cut parts stay.")
    ] = None,
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
) -> None:
    """Place the parts on the boards: layout.json, board maps (PDF, PNG)."""
    from scanner.app.place_parts import place_parts
    from scanner.app.summaries import layout_lines

    with _bar("placing the parts") as report:
        result, written = place_parts(
            parts,
            tuple(boards),
            output,
            shop_file=shop,
            units=units,
            seconds=seconds,
            work=work,
            seed=seed,
            keep=keep,
            paper=paper,
            progress=report,
        )
    for line in layout_lines(result.layout):
        _say(line)
    for line in result.advice:
        _say(f"  note: {line}")
    _say(f"written: {len(written)} files in {output}")


@app.command(epilog="Example: bothfaces grade B01/board.json B02/board.json -o grades")
def grade(
    boards: Annotated[list[Path], typer.Argument(help="board.json or boards.csv, in tally order.")],
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", help="Folder for a picture of each board's cuttings."),
    ] = None,
    units: Units = "mm",
) -> None:
    """Estimate each board's grade by the published NHLA rules; no inspection."""
    from scanner.app.grade_boards import grade_boards

    lines, written = grade_boards(tuple(boards), output, units)
    for line in lines:
        _say(line)
    if output is not None:
        _say(f"written: {len(written)} pictures in {output}")


@app.command(epilog="Example: bothfaces tally B01/board.json typed.csv -o boards.csv")
def tally(
    boards: Annotated[list[Path], typer.Argument(help="board.json or boards.csv, in tally order.")],
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="List to write (CSV).")
    ] = None,
    units: Units = "mm",
) -> None:
    """Tally boards: size, flaws, surface measure, board feet; and write them as a list."""
    from scanner.app.tally_boards import tally_boards

    for line in tally_boards(tuple(boards), output, units):
        _say(line)
    if output is not None:
        _say(f"written: {output}")


@app.command(epilog="Example: bothfaces choose parts.csv boards.csv --budget 120")
def choose(
    parts: Annotated[Path, typer.Argument(help="Parts list, CSV or JSON.")],
    boards: Annotated[list[Path], typer.Argument(help="board.json or boards.csv, with prices.")],
    budget: Annotated[
        float | None, typer.Option(min=0, help="The boards may cost no more than this.")
    ] = None,
    shop: Annotated[Path | None, typer.Option(help="Shop settings (TOML).")] = None,
    units: Units = "mm",
) -> None:
    """Say which boards to take: the cheapest set found that holds the parts."""
    from scanner.app.choose_boards import which_boards

    with _bar("choosing") as report:
        lines = which_boards(
            parts, tuple(boards), shop_file=shop, units=units, budget=budget, progress=report
        )
    for line in lines:
        _say(line)


@app.command(epilog="Example: bothfaces buy parts.csv --grade 1C -o how-much.png")
def buy(
    parts: Annotated[Path, typer.Argument(help="Parts list, CSV or JSON.")],
    grade: Annotated[str, typer.Option(help="Grade at the yard: FAS, Selects, 1C or 2A.")] = "1C",
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="Picture of the chances (PNG).")
    ] = None,
    shop: Annotated[Path | None, typer.Option(help="Shop settings (TOML).")] = None,
    units: Units = "mm",
    trials: Annotated[int, typer.Option(help="Simulated lots for each species.")] = 40,
    seed: Annotated[int, typer.Option(help="Of the simulated lots.")] = 1,
) -> None:
    """Say how many board feet to buy, and the chance that everything fits."""
    from scanner.app.buy_wood import buy_wood

    with _bar("buying") as report:
        lines = buy_wood(
            parts,
            grade=grade,
            shop_file=shop,
            units=units,
            trials=trials,
            seed=seed,
            picture=output,
            progress=report,
        )
    for line in lines:
        _say(line)
    if output is not None:
        _say(f"written: {output}")


stock_commands = typer.Typer(
    no_args_is_help=True,
    help="Left-overs: keep them with their flaws and pictures, find them again.",
)
app.add_typer(stock_commands, name="stock", epilog="Example: bothfaces stock find stock 18in 4in")


@stock_commands.command(
    "keep", epilog="Example: bothfaces stock keep layout/layout.json B01/board.json -o stock"
)
def stock_keep(
    layout: Annotated[Path, typer.Argument(help="layout.json with the left-overs.")],
    boards: Annotated[list[Path], typer.Argument(help="Boards of the layout.")],
    output: Output = Path("stock"),
    units: Units = "mm",
) -> None:
    """Put a layout's left-overs into stock, each as a board of its own."""
    from scanner.app.keep_stock import keep_left_overs

    for line in keep_left_overs(layout, tuple(boards), output, units):
        _say(line)
    _say(f"written: {output}")


@stock_commands.command(
    "find", epilog="Example: bothfaces stock find stock 18in 4in --species 'white ash'"
)
def stock_find(
    folder: Annotated[Path, typer.Argument(help="Folder of the stock.")],
    length: Annotated[str, typer.Argument(help="Length of the clear piece, with the grain.")],
    width: Annotated[str, typer.Argument(help="Width of the clear piece.")],
    species: Annotated[str | None, typer.Option(help="This species only.")] = None,
    units: Units = "mm",
) -> None:
    """Find the left-overs that give a clear piece of at least this size, the smallest first."""
    from scanner.app.keep_stock import find_in_stock

    found = find_in_stock(folder, length, width, species, units)
    for line in found or ("nothing in stock gives that",):
        _say(line)


@app.command("yard-card", epilog="Example: bothfaces yard-card parts.csv --units inch -o card")
def yard_card(
    parts: Annotated[Path, typer.Argument(help="Parts list, CSV or JSON.")],
    output: Output = Path("yard-card"),
    layout: Annotated[
        Path | None, typer.Option(help="A layout.json: what it placed is not looked for.")
    ] = None,
    shop: Annotated[Path | None, typer.Option(help="Shop settings (TOML).")] = None,
    units: Units = "mm",
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    budget: Annotated[
        float | None, typer.Option(min=0, help="Money for it all: gives the highest prices.")
    ] = None,
) -> None:
    """Make the card for the yard: what is still to find, which widths, how straight (PDF, HTML)."""
    from scanner.app.make_yard_card import make_yard_card

    written = make_yard_card(
        parts,
        output,
        layout_file=layout,
        shop_file=shop,
        units=units,
        paper=paper,
        budget=budget,
    )
    for path in written:
        _say(f"written: {path}")


@app.command(epilog="Example: bothfaces movement 12in --species 'white ash' --from 6 --to 11")
def movement(
    width: Annotated[str, typer.Argument(help="Width of the part, across the grain.")],
    species: Annotated[str, typer.Option(help="Species, as in the Wood Handbook.")],
    start: Annotated[float, typer.Option("--from", min=0, help="Moisture content now, per cent.")],
    stop: Annotated[float, typer.Option("--to", min=0, help="Moisture content later, per cent.")],
    units: Units = "mm",
) -> None:
    """Say how much a wide part grows or shrinks between two moisture contents."""
    from scanner.app.wood_movement import movement_lines

    for line in movement_lines(width, species, start, stop, units):
        _say(line)


@app.command(epilog="Example: bothfaces schema board > board.schema.json")
def schema(
    name: Annotated[str, typer.Argument(help="board, layout or parts.")],
) -> None:
    """Print the JSON Schema of a file."""
    import json

    from scanner.app.print_schema import schema_of

    print(json.dumps(schema_of(name), indent=2))


def _say(line: str) -> None:
    print(line, flush=True)
