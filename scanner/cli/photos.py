"""Commands round the photographs: demo, page, strip, try, look, trust."""

# Annotations are read at run time by typer, so they may not be strings here.
import sys
from pathlib import Path
from typing import Annotated

import typer

from scanner.cli.common import BOARDS, START, Output, Rule, Units, app, bar, say
from scanner.errors import LotError


@app.command(epilog="Example: bothfaces demo --no-page", rich_help_panel=START)
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


@app.command(epilog="Example: bothfaces page --lot ash.lot", rich_help_panel=START)
def page(
    lot: Annotated[Path | None, typer.Option(help="Lot file to open; made if missing.")] = None,
    lan: Annotated[
        bool,
        typer.Option("--lan", help="Let phones on the same network in (not only this machine)."),
    ] = False,
    port: Annotated[
        int | None, typer.Option(min=1024, max=65535, help="First port to try; else from 8501 on.")
    ] = None,
) -> None:
    """Start the page on 127.0.0.1 and print its address."""
    if lot is not None and lot.suffix.lower() != ".lot":
        # Said before the page is there, and not only on it.
        raise LotError(f"--lot: {lot.name} is no lot file", "name a file that ends in .lot")
    if lot is not None:
        from scanner.app.lot.open_lot import open_lot

        open_lot(lot).close()
    _start_page(lot, port=port, lan=lan)


def _start_page(lot: Path | None, *, port: int | None, lan: bool) -> None:
    """Run the page as a program of its own: streamlit stays out of this one."""
    import importlib.util
    import os
    import subprocess

    if importlib.util.find_spec("streamlit") is None:
        print("The page needs streamlit: install bothfaces[page].", file=sys.stderr)
        raise SystemExit(2)
    arguments = [sys.executable, "-m", "ui.launch"]
    arguments += ["--lot", str(lot)] if lot else []
    arguments += ["--port", str(port)] if port else []
    arguments += ["--lan"] if lan else []
    if os.name == "posix":
        # In this one's place: who stops the command stops the page, by whatever signal.
        sys.stdout.flush()
        os.execv(sys.executable, arguments)
    try:
        raise SystemExit(subprocess.run(arguments, check=False).returncode)
    except KeyboardInterrupt:
        raise SystemExit(0) from None


@app.command(
    epilog="Example: bothfaces strip --length 8ft --paper letter -o strip.pdf",
    rich_help_panel=START,
)
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
    from scanner.app.scanning.make_strip import make_strip

    made = make_strip(length, paper, output, second=second, arm=arm, cards=cards, measured=measured)
    for line in made:
        say(line)


@app.command("try", epilog="Example: bothfaces try front.jpg", rich_help_panel=START)
def try_(
    photo: Annotated[Path, typer.Argument(help="One photo of a board with strip or rule.")],
    rule: Rule = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="JSON file to write.")
    ] = None,
    units: Units = "mm",
) -> None:
    """Say whether a photo will do, and what would make it better."""
    from scanner.app.scanning.try_photo import trial_lines, try_photo

    for line in trial_lines(try_photo(photo, rule, output, units)):
        say(line)


@app.command(
    epilog="Example: bothfaces look scan.png --mm-per-px 0.4 -o found.json", rich_help_panel=BOARDS
)
def look(
    picture: Annotated[Path, typer.Argument(help="A face square on: flatbed scan, line camera.")],
    mm_per_px: Annotated[float, typer.Option("--mm-per-px", help="Millimetres a pixel.")],
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help="JSON file to write.")
    ] = None,
) -> None:
    """Find outline and possible flaws on a picture that is already flat, either way up."""
    from scanner.app.scanning.look_at import look_at

    looked = look_at(picture, mm_per_px, output)
    if output is None:
        say(looked.json())
    else:
        say(f"{len(looked.flaws)} possible flaws; what was not found is not proven clear")
        say(f"written: {output}")


@app.command(
    epilog="Example: bothfaces trust B01/board.json=2440mm B02/board.json=96in"
    " --profile phones.json",
    rich_help_panel=BOARDS,
)
def trust(
    taped: Annotated[
        list[str], typer.Argument(metavar="BOARD.json=LENGTH[xU]...", help="Boards as taped.")
    ],
    profile: Annotated[Path, typer.Option(help="Camera profiles that the scans were made with.")],
    units: Units = "mm",
) -> None:
    """Hold scanned lengths against the tape, to see whether their ± holds with this phone."""
    from scanner.app.scanning.prove_scale import proof_lines, prove_scale

    for line in proof_lines(prove_scale(taped, profile, units)):
        say(line)
