"""All sheets of a layout as files: board maps and the layout, as PDF and as PNG."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from scanner.board.board import Board
from scanner.errors import PlacementError
from scanner.lot.money import money_of
from scanner.lot.totals import board_totals, layout_totals
from scanner.placement.layout import Layout
from scanner.placement.parts import PartsList
from scanner.placement.shop import Shop
from scanner.sheets.content import MapContent, map_content
from scanner.sheets.drawing import Page, Photograph
from scanner.sheets.layout_sheet import layout_sheet
from scanner.sheets.map_page import map_page
from scanner.sheets.paper import PaperName, paper_named
from scanner.sheets.pdf import pdf_bytes
from scanner.sheets.png import page_image, png_bytes

PNG_WIDTH = 2000


@dataclass(frozen=True, slots=True)
class MapJob:
    """One board's map, to be laid out and drawn."""

    content: MapContent
    paper: PaperName

    def draw(self) -> dict[str, bytes]:
        """Return its PDF and its pictures."""
        stem = f"{self.content.board.id}-map"
        # Pictures of photographs are made once for both.
        pages = [page.opened() for page in map_page(self.content, self.paper)]
        files = {f"{stem}.pdf": pdf_bytes(pages, f"Board map {self.content.board.id}")}
        for number, page in enumerate(pages, 1):
            files |= PictureJob(stem, number, page).draw()
        return files


@dataclass(frozen=True, slots=True)
class PictureJob:
    """One page as a picture; ``number`` counts the sheet's pages from 1."""

    stem: str
    number: int
    page: Page

    def draw(self) -> dict[str, bytes]:
        """Return the picture."""
        name = f"{self.stem}.png" if self.number == 1 else f"{self.stem}-{self.number}.png"
        return {name: png_bytes(page_image(self.page, PNG_WIDTH))}


@dataclass(frozen=True, slots=True)
class PdfJob:
    """All pages of one sheet as a PDF."""

    stem: str
    title: str
    pages: tuple[Page, ...]

    def draw(self) -> dict[str, bytes]:
        """Return the PDF."""
        return {f"{self.stem}.pdf": pdf_bytes(self.pages, self.title)}


SheetJob = MapJob | PictureJob | PdfJob


def draw_sheet(job: SheetJob) -> dict[str, bytes]:
    """Return file name to content of one job; the job may have come from another process."""
    return job.draw()


def one_by_one(jobs: Sequence[SheetJob]) -> Iterable[dict[str, bytes]]:
    """Yield what each job gives, in order."""
    return map(draw_sheet, jobs)


def board_maps(
    layout: Layout,
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    pictures: Mapping[tuple[str, int], Photograph | None],
    paper: str = "a4",
    progress: Callable[[int, int], None] | None = None,
    work: Callable[[Sequence[SheetJob]], Iterable[dict[str, bytes]]] = one_by_one,
) -> dict[str, bytes]:
    """Return file name to content: ``B01-map.pdf``, ``B01-map.png``, ``layout.pdf``, ...

    Parameters
    ----------
    boards
        All boards of the lot, in tally order; the maps are of those that the layout opens.
    pictures
        Flat pictures by board id and face, board frame, or what opens them when they are drawn;
        what is missing is drawn plain.
    paper
        ``a4`` or ``letter``.
    progress
        Called after each job (a board's map, a page of the layout) with how many are done, and of
        how many.
    work
        Does `draw_sheet` for each job and gives the results in order, wherever it does so.

    Returns
    -------
    dict
        The same input gives the same bytes. A sheet of several pages is one PDF and several
        pictures (``B01-map-2.png``).

    Raises
    ------
    PlacementError
        The layout names a board that is not given.
    SettingsError
        There is no such paper.
    """
    size = paper_named(paper)
    contents = _contents(layout, boards, parts, shop, pictures)
    pages = _layout_pages(contents, layout, boards, parts, shop, size)
    # The longest job first, so that nobody waits for it alone at the end.
    jobs: list[SheetJob] = [PdfJob("layout", "Layout", pages)]
    jobs += [MapJob(content, size) for content in contents]
    jobs += [PictureJob("layout", number, page) for number, page in enumerate(pages, 1)]
    files: dict[str, bytes] = {}
    for number, made in enumerate(work(jobs), 1):
        files |= made
        if progress:
            progress(number, len(jobs))
    return files


def maps_pdf(
    layout: Layout,
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    pictures: Mapping[tuple[str, int], Photograph | None],
    paper: str = "a4",
) -> bytes:
    """Return the layout and every board's map as one PDF, to print at once.

    Parameters and what is raised are as of `board_maps`. One board's pictures are open at a time.
    """
    size = paper_named(paper)
    contents = _contents(layout, boards, parts, shop, pictures)

    def pages() -> Iterator[Page]:
        yield from _layout_pages(contents, layout, boards, parts, shop, size)
        for content in contents:
            for page in map_page(content, size):
                yield page.opened()

    return pdf_bytes(pages(), "Board maps")


def _layout_pages(
    contents: Sequence[MapContent],
    layout: Layout,
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    size: PaperName,
) -> tuple[Page, ...]:
    money = money_of(boards, shop, layout, parts)
    return layout_sheet(contents, layout_totals(layout), size, money)


def _contents(
    layout: Layout,
    boards: Sequence[Board],
    parts: PartsList,
    shop: Shop,
    pictures: Mapping[tuple[str, int], Photograph | None],
) -> list[MapContent]:
    known = {board.id: board for board in boards}
    used = {p.board for p in layout.placements if p.state != "spoiled"}
    unknown = sorted(used - set(known))
    if unknown:
        raise PlacementError(
            f"the layout uses board {unknown[0]}, which is not among the boards given",
            "add its board.json",
        )
    figures = layout_totals(layout)
    return [
        map_content(
            board,
            totals,
            layout,
            figures,
            parts,
            shop,
            {face: pictures.get((board.id, face)) for face in (1, 2)},
        )
        for board, totals in zip(boards, board_totals(boards), strict=True)
        if board.id in used
    ]
