"""The command scan: one board, or a whole folder of photos."""

# Annotations are read at run time by typer, so they may not be strings here.
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from scanner.cli.common import START, Batten, Output, Rule, StripTaped, Units, app, bar, say
from scanner.errors import BoardError, SettingsError

if TYPE_CHECKING:
    from scanner.app.scanning.scan_request import TypedOptions


@app.command(
    epilog="Example: bothfaces scan front.jpg back.jpg --thickness 4/4 --species 'white ash'"
    " --batten 26mm --strip-taped 2501mm -o B01"
    " · a whole folder: bothfaces scan --all photos --species 'white ash' --batten 26mm"
    " --strip-taped 2501mm -o boards",
    rich_help_panel=START,
)
def scan(
    face1: Annotated[Path | None, typer.Argument(metavar="FACE1", help="Photo of face 1.")] = None,
    face2: Annotated[Path | None, typer.Argument(metavar="FACE2", help="Photo of face 2.")] = None,
    output: Output = Path("board"),
    more1: Annotated[
        list[Path] | None, typer.Option(help="Further photo of face 1, from another side (repeat).")
    ] = None,
    more2: Annotated[
        list[Path] | None, typer.Option(help="Further photo of face 2 (repeat).")
    ] = None,
    raking1: Annotated[
        Path | None,
        typer.Option(
            help="Face 1 once more under a low lamp beside the board, or after a damp wipe: shows"
            " thin checks and saw marks. Board and rule stay as they lie."
        ),
    ] = None,
    raking2: Annotated[Path | None, typer.Option(help="The same of face 2.")] = None,
    thickness: Annotated[str, typer.Option(help="4/4 (rough) or as measured: 27mm.")] = "4/4",
    species: Annotated[str, typer.Option(help="Species, as the parts list calls it.")] = "unknown",
    rule: Rule = None,
    rule2: Annotated[str | None, typer.Option(help="A second plain rule in the picture.")] = None,
    rule_on: Annotated[
        str, typer.Option(help="Where strip or rule lies: floor or face.")
    ] = "floor",
    batten: Batten = None,
    strip_taped: StripTaped = None,
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
    every: Annotated[
        Path | None,
        typer.Option(
            "--all",
            metavar="FOLDER",
            help="Every photo of a folder, paired by board card, by order, then by outline.",
        ),
    ] = None,
    order: Annotated[
        str,
        typer.Option(
            help="With --all, photos without a card: in-turn (both faces of a board follow each"
            " other) or faces-1-first."
        ),
    ] = "in-turn",
    photos_a_face: Annotated[
        int, typer.Option(min=1, max=6, help="With --all: photos of a face that follow each other.")
    ] = 1,
    cores: Annotated[
        int | None, typer.Option(min=1, help="With --all: processes; else all cores.")
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            metavar="ADDRESS", help="With --all: work on the Dask cluster at this address."
        ),
    ] = None,
    units: Units = "mm",
) -> None:
    """Scan one board, or --all of a folder: photos in, board.json and flat faces out.

    Looks for knots, holes, bark pockets, wane, wild grain, your own chalk
    marks, and checks (splits and shakes are told as checks). It does not
    look for rot, pith, stain or pitch: chalk round them before the photo,
    or add them on the page.
    """
    from scanner.app.scanning.scan_request import TypedOptions

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
        raking_1=str(raking1) if raking1 else None,
        raking_2=str(raking2) if raking2 else None,
    )
    if every is not None:
        if face1 is not None or board_id is not None:
            raise SettingsError(
                "--all takes its photos and names from the folder",
                "leave FACE1, FACE2 and --id out",
            )
        _scan_all(every, output, typed, order, photos_a_face, scheduler, cores)
        return
    if scheduler is not None or cores is not None or photos_a_face != 1:
        raise SettingsError(
            "--scheduler, --cores and --photos-a-face belong to --all", "add --all FOLDER"
        )
    if face1 is None:
        raise SettingsError("there is no photo of face 1", "give FACE1, or --all FOLDER")
    _scan_one(face1, face2, output, typed, board_id)


def _say_of_strip(typed: "TypedOptions") -> None:
    """Say what the strip is taken to lie on: no photo tells of a batten that was left out."""
    if typed.rule is None and typed.rule2 is not None:
        say("  note: --rule2 has no effect beside the strip: it is looked for with --rule only")
    if typed.rule is None and typed.batten is None and typed.rule_on == "floor":
        say(
            "  note: the strip counts as lying on the floor itself; if it is glued to a batten, say"
            " how thick that is (--batten 26mm), else an 8 ft board may come out 40 mm wrong"
        )


def _scan_one(
    face1: Path, face2: Path | None, output: Path, typed: "TypedOptions", board_id: str | None
) -> None:
    from scanner.app.placing.summaries import board_lines
    from scanner.app.scanning.scan_board import scan_board
    from scanner.app.scanning.scan_request import scan_request
    from scanner.app.scanning.two_boards import keep_why

    request = scan_request(board_id or "B01", face1, face2, typed)
    request = replace(request, is_named=board_id is not None)
    with bar(request.id) as report:
        try:
            result = scan_board(request, output, report)
        except BoardError as problem:
            raise keep_why(problem, output, request.id) from problem
    for line in board_lines(result.board, typed.units):
        say(line)
    for line in result.advice:
        say(f"  note: {line}")
    _say_of_strip(typed)
    say(f"written: {output / 'board.json'}")


def _scan_all(
    folder: Path,
    output: Path,
    typed: "TypedOptions",
    order: str,
    photos_a_face: int,
    scheduler: str | None,
    cores: int | None,
) -> None:
    from scanner.app.lot.scan_folder import scan_folder
    from scanner.app.placing.summaries import board_lines

    if order not in ("in-turn", "faces-1-first"):
        raise SettingsError(f'--order: "{order}" is neither', "write in-turn or faces-1-first")
    with bar(folder.name or "photos") as report:
        result = scan_folder(
            folder,
            output,
            typed,
            order="in_turn" if order == "in-turn" else "faces_1_first",
            photos_a_face=photos_a_face,
            scheduler=scheduler,
            cores=cores,
            progress=report,
        )
    for scanned in result.boards:
        for line in board_lines(scanned.board, typed.units):
            say(line)
        for note in scanned.advice:
            say(f"  note: {note}")
    if result.boards:
        _say_of_strip(typed)
        count = len(result.boards)
        say(f"written: {count} {'board' if count == 1 else 'boards'} in {output}")
    else:
        say(f"no board was read; nothing is written to {output}")
    for line in result.left:
        print(line, file=sys.stderr)
    if result.left:
        raise SystemExit(2)
