"""``python -m tests.reference``: write docs/reference.md, commands and files, from the code itself.

What a column or key means stands here, as the code holds no sentence for it; one without a meaning
is an error, so that nothing new goes undescribed.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

from typer.main import get_command

from scanner.app.print_schema import schema_of
from scanner.cli import app
from scanner.files.boards_list import BoardCells, flaw_example
from scanner.files.shop_file import ShopRow
from scanner.placement.shop import Shop

PAGE = Path(__file__).parents[1] / "docs" / "reference.md"
_HEAD = """# Reference: commands and files

Written by `python -m tests.reference` from the program's own commands and schemas; a test fails
where they differ. Exit status of every command: 0 done, 1 a fault of the program, 2 something you
can mend, said in one sentence. The last column of each table says what holds where something is
left out; an empty cell: nothing of the kind.
"""
_PARTS = {
    "name": "what the part is called; one row each",
    "quantity": "how many",
    "length": "finished, along the grain",
    "width": "finished, across",
    "thickness": "finished",
    "faces": "what may show where: `both`, `show`, `sound`, `hidden` (README)",
    "species": "only from boards of this species",
    "sapwood": "`no`; `back`: not on the face that shows; `any`",
    "max_knot": "largest sound knot it may carry, where its faces allow one",
    "priority": "a weight: value is priority times finished area",
    "match": "name of a set that lies together; `NAME:in_order`, `NAME:bookmatch`",
    "spares": "how many more, beside their set where that costs nothing",
    "straight_grain": "`1 in N`: no grain known to be steeper; `follow`: turned with the grain",
    "shape": "file with the outline of a curved part and its grain line (SVG or JSON)",
    "length_min": "how short it may get where that places more",
    "length_max": "how long, to be equal with another row",
    "width_min": "how narrow it may get",
    "width_max": "how wide, to be equal with another row",
    "equal": "rows of one name here share one size",
    "length_allowance": "instead of the shop's",
    "width_allowance": "instead of the shop's",
    "staves": "glued up from so many staves of one board, or `auto`",
    "filler": "`yes`: only into what is left over",
    "only_boards": "ids, with spaces between them",
    "not_boards": "ids, with spaces between them",
    "job": "name of the job it belongs to",
    "note": "free text",
}
_BOARDS = {
    "id": "the board's name",
    "thickness": "`4/4` (rough) or as measured, with its unit",
    "length": "along the grain",
    "width": "across",
    "species": "what wood it is",
    "flaws": f"as rectangles, with a bar between two: `{flaw_example('mm')}`",
    "trim_a": "lost of end A, instead of the shop's",
    "trim_b": "lost of end B",
    "price": "what the board costs",
    "looked_over": "`yes`: both faces and both ends were looked at",
    "only_parts": "names of the parts it is kept for, with a bar between two",
    "keep_whole": "`yes`: no part is laid on it",
}
_SHOP = {
    "kerf_mm": "what the saw turns to dust",
    "sawing_tolerance_mm": "how far a cut may wander",
    "end_trim_seen_mm": "lost of an end that was looked at",
    "end_trim_unseen_mm": "lost of an end that nobody looked at",
    "length_allowance_mm": "rough length more than finished",
    "width_allowance_mm": "rough width more than finished",
    "cleanup_mm": "thickness lost to planing, both faces together",
    "piece_length_mm": "about how long pieces are crosscut",
    "shortest_piece_mm": "the shortest that the machines take; left-overs are kept from this length"
    " on where they are as large as 4 x 16 in, from 400 mm on where they are 50 mm wide",
    "jointer_width_mm": "the widest that the jointer takes",
    "planer_width_mm": "the widest that the planer takes",
    "snipe_mm": "spoiled at both ends of what runs through the planer",
    "cut_class": "`three_stage`, `three_stage_trimmed` (ripped to width after milling), `any`",
    "units": "`mm` or `inch`: of sheets, and of defaults (1 in, 1/2 in, 24 in, 12 in)",
    "currency": "written with prices: a sign as $ before them, letters as EUR after",
    "price_per_board_foot": 'a table: `"white ash 8/4" = 8.25`',
}


def page() -> str:
    """Return the whole page."""
    lines = [_HEAD, "## Commands", ""]
    for name, command in _commands().items():
        lines += _command(name, command)
    lines += ["## Parts list", "", "CSV with these columns, or JSON with the same.", ""]
    lines += _parts()
    lines += [
        "## Boards list",
        "",
        "Boards typed in, without photographs: a CSV with these columns. A flaw is its kind, its",
        "face (`1`, `2` or `both`), its place from end A and from the upper edge of face 1 as it",
        "lies with end A to the left; a knot may be `sound` or `unsound`.",
        "",
    ]
    lines += _boards()
    lines += [
        "## shop.toml",
        "",
        'Lengths in mm, or as text (`"1/8 in"`). All keys may be left out.',
        "",
    ]
    lines += _shop()
    for name in ("board", "layout"):
        lines += [
            f"## {name}.json",
            "",
            f"Lengths in mm. JSON Schema: `bothfaces schema {name}`.",
            "",
        ]
        lines += _file(name)
    return "\n".join(lines).rstrip() + "\n"


def _commands() -> dict[str, Any]:
    """Return every command by what is typed, subcommands too."""
    found: dict[str, Any] = {}
    for name, command in get_command(app).commands.items():
        inner = getattr(command, "commands", None)
        if inner:
            found |= {f"{name} {other}": one for other, one in inner.items()}
        else:
            found[name] = command
    return found


def _command(name: str, command: Any) -> list[str]:
    given = [p for p in command.params if p.param_type_name == "argument"]
    options = [p for p in command.params if p.param_type_name == "option" and p.name != "help"]
    words = [f"{p.name.upper()}{'...' if p.nargs == -1 else ''}" for p in given]
    words = [word if p.required else f"[{word}]" for word, p in zip(words, given, strict=True)]
    example = (command.epilog or "").removeprefix("Example: ")
    lines = [f"### {name}", "", command.help.strip().replace("\n", " "), ""]
    lines += [f"`bothfaces {' '.join([name, *words])}{' [options]' if options else ''}`", ""]
    if given or options:
        lines += ["| argument, option | what for | if left out |", "|---|---|---|"]
    for p in given:
        lines.append(
            f"| {p.name.upper()} | {_cell(p.help)} | {'must be given' if p.required else ''} |"
        )
    for p in options:
        names = ", ".join(f"`{name}`" for name in [*p.opts, *p.secondary_opts])
        value = f" {p.metavar}" if p.metavar else ""
        lines.append(f"| {names}{_cell(value)} | {_cell(p.help)} | {_otherwise(p)} |")
    return [*lines, "", f"Example: `{example}`", ""]


def _otherwise(p: Any) -> str:
    """Return what holds where an option is not given."""
    if p.required:
        return "must be given"
    if p.default is True and p.secondary_opts:
        return f"`{p.opts[0]}`"
    if p.default is None or p.default is False or p.default in ((), [], "") or callable(p.default):
        return ""
    return f"`{p.default}`"


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


def _parts() -> list[str]:
    row = schema_of("parts")["$defs"]["PartRow"]
    lines = ["| column | means | if left out |", "|---|---|---|"]
    for name, field in row["properties"].items():
        must = name in row["required"]
        lines.append(
            f"| `{name}` | {_PARTS[name]} | {'must be given' if must else _default(field)} |"
        )
    return [*lines, ""]


def _boards() -> list[str]:
    lines = ["| column | means | if left out |", "|---|---|---|"]
    for name, field in BoardCells.model_fields.items():
        otherwise = "must be given" if field.is_required() else _plain(field.default)
        lines.append(f"| `{name}` | {_BOARDS[name]} | {otherwise} |")
    return [*lines, ""]


def _shop() -> list[str]:
    usual = {field.name: field.default for field in dataclasses.fields(Shop)}
    lines = ["| key | means | if left out |", "|---|---|---|"]
    for name in ShopRow.model_fields:
        lines.append(f"| `{name}` | {_SHOP[name]} | {_plain(usual.get(name))} |")
    return [*lines, ""]


def _file(name: str) -> list[str]:
    schema = schema_of(name)
    lines = _fields(schema)
    for title, inner in sorted(schema["$defs"].items()):
        about = inner.get("description", "").splitlines()[0] if inner.get("description") else ""
        lines += [f"**{title}** {about}".rstrip(), ""]
        if "properties" in inner:
            lines += _fields(inner)
        elif "enum" in inner:
            lines += [", ".join(f"`{value}`" for value in inner["enum"]), ""]
    return lines


def _fields(record: dict[str, Any]) -> list[str]:
    lines = ["| field | holds | if left out |", "|---|---|---|"]
    for name, field in record["properties"].items():
        must = name in record.get("required", ())
        lines.append(
            f"| `{name}` | {_type(field)} | {'must be given' if must else _default(field)} |"
        )
    return [*lines, ""]


def _type(field: dict[str, Any]) -> str:
    if "$ref" in field:
        return field["$ref"].rpartition("/")[2]
    if "const" in field:
        return f"`{field['const']}`"
    if "enum" in field:
        return ", ".join(f"`{value}`" for value in field["enum"])
    if "anyOf" in field:
        return " or ".join(_type(one) for one in field["anyOf"])
    if field.get("type") == "array":
        if "prefixItems" in field:
            return f"[{', '.join(_type(one) for one in field['prefixItems'])}]"
        return f"list of {_type(field.get('items', {}))}"
    kind = field.get("type", "anything")
    return " or ".join(kind) if isinstance(kind, list) else str(kind)


def _default(field: dict[str, Any]) -> str:
    return _plain(field.get("default"))


def _plain(value: object) -> str:
    return "" if value in (None, "", [], (), {}) else f"`{value}`"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    print(f"written: {PAGE}")
