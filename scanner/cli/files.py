"""Commands on files: export, import, schema."""

# Annotations are read at run time by typer, so they may not be strings here.
from pathlib import Path
from typing import Annotated

import typer

from scanner.cli.common import FILES, app, say


@app.command(epilog="Example: bothfaces export ash.lot -o ash.zip", rich_help_panel=FILES)
def export(
    lot: Annotated[Path, typer.Argument(help="Lot file.")],
    output: Annotated[Path, typer.Option("-o", "--output", help="ZIP to write.")],
) -> None:
    """Pack a whole lot with its photos into one ZIP."""
    from scanner.app.lot.move_lot import export_file

    export_file(lot, output)
    say(f"written: {output}")


@app.command("import", epilog="Example: bothfaces import ash.zip --name ash", rich_help_panel=FILES)
def import_(
    packed: Annotated[Path, typer.Argument(help="ZIP that export wrote.")],
    name: Annotated[
        str | None, typer.Option(help="Name of the new lot; else that of the ZIP.")
    ] = None,
    output: Annotated[Path, typer.Option("-o", "--output", help="Folder for the lot.")] = Path(),
) -> None:
    """Make a lot of a packed one; a lot that is there is never written over."""
    from scanner.app.lot.move_lot import import_lot, name_of_packed

    named = name_of_packed(packed.name) if name is None else name
    say(f"written: {import_lot(packed, output, named)}")


@app.command(epilog="Example: bothfaces schema board > board.schema.json", rich_help_panel=FILES)
def schema(
    name: Annotated[str, typer.Argument(help="board, layout or parts.")],
) -> None:
    """Print the JSON Schema of a file."""
    import json

    from scanner.app.print_schema import schema_of

    print(json.dumps(schema_of(name), indent=2))
