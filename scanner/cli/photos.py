"""Commands round the photographs: demo, page, strip, try, scan, look, trust."""

# Annotations are read at run time by typer, so they may not be strings here.
import sys
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from scanner.cli.common import Output, Units, app, bar, say


@app.command(epilog="Example: bothfaces demo --no-page")
def demo(
    page: Annotated[
        bool, typer.Option("--page/--no-page", help="Start the page at the end.")
    ] = True,
    output: Output = Path("out/demo"),
) -> None:
    """Do the main job on sample_images/: scan the boards, place the parts, draw the sheets."""
    from scanner.app.demo import run_demo

    run_demo(output, say=say, bar=bar)
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
    cards: Annotated[
        int, typer.Option(min=0, max=499, help="Board cards, one a face, for so many boards.")
    ] = 0,
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
        say(line)


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
        say(line)


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
    board_id: Annotated[
        str | None,
        typer.Option("--id", help="The board's name; without it the board card's, or B01."),
    ] = None,
    units: Units = "mm",
) -> None:
    """Scan one board: photos of both faces in, board.json and flat faces out.

    Looks for knots, holes, bark pockets, wane, wild grain, your own chalk
    marks, and checks (splits and shakes are told as checks). It does not
    look for rot, pith, stain or pitch: chalk round them before the photo,
    or add them on the page.
    """
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
    request = scan_request(board_id or "B01", face1, face2, typed)
    request = replace(request, is_named=board_id is not None)
    with bar(request.id) as report:
        result = scan_board(request, output, report)
    for line in board_lines(result.board, units):
        say(line)
    for line in result.advice:
        say(f"  note: {line}")
    say(f"written: {output / 'board.json'}")


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
        say(looked.json())
    else:
        say(f"{len(looked.flaws)} possible flaws; what was not found is not proven clear")
        say(f"written: {output}")


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
        say(line)
