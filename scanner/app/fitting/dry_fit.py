"""The errand "dry fit from the photos": groups of parts seen together before anything is cut."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from scanner.app.placing.plan_cuts import load_pictures
from scanner.board.assembly import WAYS, flipped, in_order, turned, with_member
from scanner.errors import PlacementError, SettingsError
from scanner.files.json_text import json_text
from scanner.lot.groups import groups_of
from scanner.lot.matching import hints_of, match_of
from scanner.sheets.assembled import AssembledContent, assembled_sheet
from scanner.sheets.paper import paper_named
from scanner.sheets.pdf import pdf_bytes
from scanner.sheets.piece_picture import piece_pixels
from scanner.sheets.png import page_image, png_bytes
from scanner.units import percent_text

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence
    from pathlib import Path

    from PIL import Image

    from scanner.board.assembly import Assembly
    from scanner.board.board import Board
    from scanner.lot.matching import Looks, Match
    from scanner.placement.layout import Layout
    from scanner.placement.parts import PartsList
    from scanner.placement.shop import Shop

    Pictures = Mapping[tuple[str, int], Image.Image | None]

PNG_WIDTH = 2000
# A search this long settles whether a set fits on one board; enough for a lot of some boards.
STEPS_PER_BOARD = 8


@dataclass(frozen=True, slots=True)
class Bench:
    """What is laid together: a layout with its boards, parts and flat pictures."""

    layout: Layout
    boards: tuple[Board, ...]
    parts: PartsList
    shop: Shop
    pictures: Pictures

    def groups(self) -> tuple[Assembly, ...]:
        """Return every group of the layout that is seen together."""
        return groups_of(self.layout, self.boards, self.parts, self.shop)


@dataclass(frozen=True, slots=True)
class Fit:
    """One group with its match and what is to be said of it."""

    assembly: Assembly
    match: Match | None
    hints: tuple[str, ...]
    costs: tuple[str, ...] = ()


def bench_from(
    layout: Layout,
    boards: tuple[Board, ...],
    parts: PartsList,
    shop: Shop,
    folders: Mapping[str, Path],
) -> Bench:
    """Return what is laid together, with the pictures of the boards that parts lie on."""
    used = {p.board for p in layout.placements}
    pictures = load_pictures(tuple(b for b in boards if b.id in used), folders)
    return Bench(layout, boards, parts, shop, pictures)


def group_named(groups: Sequence[Assembly], name: str) -> Assembly:
    """Return the group of a name.

    Raises
    ------
    PlacementError
        There is none; the sentence names those there are.
    """
    for group in groups:
        if group.title == name:
            return group
    there = ", ".join(group.title for group in groups) or "none"
    raise PlacementError(f'there is no group "{name}"', f"choose one of: {there}")


def fit_of(bench: Bench, assembly: Assembly) -> Fit:
    """Return a group with the best match found and its hints."""
    looks = looks_of(bench, assembly)
    match = match_of(assembly, looks)
    return Fit(assembly, match, (*match_words(match), *hints_of(assembly, looks)))


def looks_of(bench: Bench, assembly: Assembly) -> Looks:
    """Return how each piece looks on each face that may show and that has a picture."""
    from scanner.vision.looks.joint_look import MM_PER_PX, look_of

    known = {board.id: board for board in bench.boards}
    found = {}
    for member in assembly.members:
        for face in member.may_show:
            picture = bench.pictures.get((member.board, face))
            if picture is None:
                continue
            shown = replace(member, face=face, is_turned=False)
            pixels = piece_pixels(shown, known[member.board], picture, MM_PER_PX)
            try:
                found[member.key, face] = look_of(pixels)
            except ValueError:
                # Smaller than what a look can be told from.
                continue
    return found


def match_words(match: Match | None) -> tuple[str, ...]:
    """Return in a sentence whether another order matches better."""
    if match is None:
        return ()
    tried = "all orders" if match.is_exact else "the orders tried"
    if match.gain <= 0:
        return (f"Of {tried} this one matches best at the joints, as far as photos tell.",)
    members = match.proposed.members
    said = ", ".join(
        m.title + (f" (face {m.face} up, turned)" if m.is_turned else f" (face {m.face} up)")
        for m in members
    )
    return (
        f"Laid otherwise the joints would be {percent_text(match.gain)} more alike, as far as "
        f"photos tell; the best of {tried}, pieces turned and flipped too: {said}.",
    )


def price_of_match(bench: Bench, assembly: Assembly) -> tuple[str, ...]:
    """Return what a better match would cost in wood: the group side by side from one board."""
    from scanner.lot.better_match import match_price

    price = match_price(bench.layout, bench.boards, bench.parts, bench.shop, assembly,
                        STEPS_PER_BOARD)  # fmt: skip
    if price is None:
        return ("All pieces come from one board already: the best match there is for no wood.",)
    if price.layout is None:
        return (f"From one board, side by side, it cannot be had: {price.why}.",)
    beside = replace(bench, layout=price.layout)
    other = next((g for g in beside.groups() if g.title == assembly.title), None)
    if other is None:
        return ()
    before, after = fit_of(bench, assembly).match, fit_of(beside, other).match
    said = ""
    if before and after and before.proposed_cost > 0:
        gain = 1 - after.proposed_cost / before.proposed_cost
        said = f" ({percent_text(abs(gain))} {'more' if gain > 0 else 'less'} alike at the joints)"
    return (f"From one board, side by side{said}: {price.words}.",)


@dataclass(frozen=True, slots=True)
class ByHand:
    """What is asked of one group by hand, as typed; pieces by their place before, from 1.

    Attributes
    ----------
    order
        All pieces in their new order, ``3,1,2``.
    flip, turn
        Pieces whose other face is up, and those turned end for end, ``1,3``.
    slide
        Pieces and how far along their board, ``2=40mm,3=-10mm``: that only a layout can hold.
    """

    order: str | None = None
    flip: str | None = None
    turn: str | None = None
    slide: str | None = None

    @property
    def is_anything(self) -> bool:
        """Whether anything is asked."""
        return bool(self.order or self.flip or self.turn or self.slide)


def laid_by_hand(assembly: Assembly, asked: ByHand, way: str | None = None) -> Assembly:
    """Return a group as it was asked for, nothing slid.

    Raises
    ------
    SettingsError
        A number names no piece, an order does not name each piece once, or a face may not show.
    """
    for index in piece_numbers(asked.flip, "--flip", assembly):
        try:
            assembly = with_member(assembly, index, flipped(assembly.members[index]))
        except ValueError as problem:
            raise SettingsError(f"--flip {index + 1}: {problem}", "leave it as it lies") from None
    for index in piece_numbers(asked.turn, "--turn", assembly):
        assembly = with_member(assembly, index, turned(assembly.members[index]))
    if asked.order:
        assembly = in_order(assembly, order_of(asked.order, assembly))
    if way:
        known = next((one for one in WAYS if one == way.replace("-", "_")), None)
        if known is None:
            names = ", ".join(one.replace("_", "-") for one in WAYS)
            raise SettingsError(f'--way: "{way}" is none', f"choose one of {names}")
        assembly = replace(assembly, way=known)
    return assembly


def order_of(text: str, assembly: Assembly) -> tuple[int, ...]:
    """Return an order as typed: for each new place the index of the piece that goes there.

    Raises
    ------
    SettingsError
        It does not name each piece once.
    """
    indices = piece_numbers(text, "--order", assembly)
    if sorted(indices) != list(range(len(assembly.members))):
        raise SettingsError(
            f'--order "{text}" does not name each of {len(assembly.members)} pieces once',
            "write them like 2,1,3",
        )
    return indices


def piece_numbers(text: str | None, option: str, assembly: Assembly) -> tuple[int, ...]:
    """Return the pieces of a group that an option names by 1 to N, as indices from 0.

    Raises
    ------
    SettingsError
        A number names none.
    """
    numbers = re.findall(r"[^,\s]+", text or "")
    for number in numbers:
        if not number.isdigit() or not 1 <= int(number) <= len(assembly.members):
            raise SettingsError(
                f'{option}: "{number}" is no piece of {assembly.title}',
                f"name pieces by 1 to {len(assembly.members)}",
            )
    return tuple(int(number) - 1 for number in numbers)


def content_of(bench: Bench, fit: Fit, title: str | None = None) -> AssembledContent:
    """Return what the sheets of a group tell."""
    return AssembledContent(
        assembly=fit.assembly,
        title=title or fit.assembly.title,
        boards={board.id: board for board in bench.boards},
        pictures=bench.pictures,
        units=bench.shop.units,
        hints=fit.hints,
        costs=fit.costs,
        unseen=not_looked_over(bench, (fit,)),
    )


def not_looked_over(bench: Bench, fits: Sequence[Fit]) -> tuple[str, ...]:
    """Return the boards that pieces of these groups come from and nobody has looked over."""
    used = {member.board for fit in fits for member in fit.assembly.members}
    return tuple(
        sorted(one.id for one in bench.boards if one.id in used and not one.is_looked_over)
    )


def sheet_files(bench: Bench, fit: Fit, stem: str, paper: str) -> dict[str, bytes]:
    """Return the sheets of a group as PDF and PNG, and the order proposed where it is another."""
    size = paper_named(paper)
    files = {}
    shown: list[tuple[str, Fit, str | None]] = [(stem, fit, None)]
    if fit.match is not None and fit.match.gain > 0:
        proposed = fit_of(bench, fit.match.proposed)
        shown.append((f"{stem}-proposed", proposed, f"{fit.assembly.title}, order proposed"))
    for name, one, title in shown:
        pages = assembled_sheet(content_of(bench, one, title), size)
        files[f"{name}.pdf"] = pdf_bytes(pages, f"Assembled: {one.assembly.title}")
        for number, page in enumerate(pages, 1):
            suffix = "" if number == 1 else f"-{number}"
            files[f"{name}{suffix}.png"] = png_bytes(page_image(page, PNG_WIDTH))
    return files


def fits_json(fits: Sequence[Fit], not_looked_over: Sequence[str] = ()) -> bytes:
    """Return the groups as JSON: order, lie, unlikeness at the joints, boards not looked over."""
    return json_text(
        {
            "format": "assembled",
            "version": 1,
            "groups": [
                {
                    "title": fit.assembly.title,
                    "way": fit.assembly.way,
                    "pieces": _pieces(fit.assembly),
                    "unlikeness": None if fit.match is None else round(fit.match.cost, 3),
                    "proposed": None
                    if fit.match is None or fit.match.gain <= 0
                    else {
                        "pieces": _pieces(fit.match.proposed),
                        "unlikeness": round(fit.match.proposed_cost, 3),
                        "exact": fit.match.is_exact,
                    },
                    "said": [*fit.hints, *fit.costs],
                }
                for fit in fits
            ],
            "not_looked_over": list(not_looked_over),
        }
    ).encode()


def _pieces(assembly: Assembly) -> list[dict[str, object]]:
    return [
        {
            "part": m.part,
            "copy": m.copy,
            "stave": m.stave or None,
            "board": m.board,
            "face": m.face,
            "turned": m.is_turned,
        }
        for m in assembly.members
    ]


def stem_of(title: str) -> str:
    """Return a file name for a group, with the letters of any language."""
    plain = unicodedata.normalize("NFC", title).lower()
    return re.sub(r"[\W_]+", "-", plain).strip("-") or "group"


def beside(sheets: Mapping[str, bytes], stem: str, there: Collection[str]) -> dict[str, bytes]:
    """Return the sheets of a group under names that none of ``there`` has.

    ``a/b`` and ``A B`` have one stem, and the second page of ``door`` the name of ``door 2``.
    """
    number, named = 1, dict(sheets)
    while not named.keys().isdisjoint(there):
        number += 1
        # No stem has this sign.
        named = {
            name.replace(stem, f"{stem}_{number}", 1): content for name, content in sheets.items()
        }
    return named
