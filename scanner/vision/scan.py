"""The steps in order for one face: this file reads like a table of contents."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Polygon

from scanner.board.flaw import FlawKind
from scanner.board.reading import FaceReading, mid_line
from scanner.errors import PhotoError
from scanner.geometry.polygons import union_of
from scanner.vision.blades import grass_over, without_blades
from scanner.vision.each_photo import held_against_each
from scanner.vision.face_reading import off_the_tape, quality_of, read_off, widest_u_mm
from scanner.vision.face_view import face_picture, own_views
from scanner.vision.first_look import (
    GROUND_MM_PER_PX,
    first_look,
    rough_place,
    tied_anew,
    with_board,
)
from scanner.vision.fit.both_faces import told_length
from scanner.vision.fit.profile import evidence_of
from scanner.vision.fit.scale_fit import ScaleFit
from scanner.vision.flaws import SeenWood, see_wood
from scanner.vision.looks.colour import strip_white, wood_colour
from scanner.vision.low_lamp.raking import MOST_APART_MM, lay_over
from scanner.vision.low_lamp.raking_saw import find_saw_marks
from scanner.vision.outline.butted import doubts_of_seams
from scanner.vision.outline.over_floor import trace_views
from scanner.vision.outline.several import SeenSides
from scanner.vision.outline.trace import TracedOutline, trace_seen
from scanner.vision.photos.picture import FacePicture, FaceScan, Photo
from scanner.vision.place import along_the_board, card_beside
from scanner.vision.rectify import FacePlace, flatten
from scanner.vision.rule.cards import SeenCard, find_cards
from scanner.vision.scale import fit_scale
from scanner.vision.second_look.wiped_photos import wiped_photos
from scanner.vision.setup import Setup

Progress = Callable[[str, float], None]

_LONE_RULE = (
    "A plain rule alone gave the scale, and a rule read wrongly would not show:"
    " tape the board and give its length"
)
_ON_GRASS = (
    "Grass lies over the rim: nothing is told under it, so brush it off or lay the board elsewhere"
)
_COVERED = (
    "Something seems to lie over an edge of the face: the line is drawn on under it, the ± of the"
    " widths there is wider for it, and wane under it would not show; clear it and photograph again"
)
# A board is traced in the picture that its tape made true, and again where that moved its ends. Of
# 36 rendered boards 33 came to rest at the first trace, two at the second and one at the third.
_MOST_TRACES = 3
# What is mostly grass and its shadows is no flaw that could be seen.
_MOST_GRASS = 0.5


def scan_face(
    photos: tuple[Photo, ...],
    setup: Setup,
    progress: Progress = lambda step, share: None,
    raking: Photo | None = None,
    *,
    is_marked: bool = False,
) -> FaceScan:
    """Return all that is read off one face.

    Parameters
    ----------
    photos
        One or more photographs of the face.
    setup
        Reference, thickness and taped sizes.
    progress
        Called with the step's name and the share done, 0 to 1.
    raking
        The same face once more under a low lamp, or after a damp wipe: used for checks and saw
        marks only. Where it cannot be laid over the first photo the scan goes on without it and
        says so.
    is_marked
        Parts are drawn on the face: their lines are wiped out before the board is looked for, and
        stay in the picture.

    Raises
    ------
    PhotoError
        No scale, no board, or nothing that can be measured.
    """
    name = photos[0].name
    progress("finding the rule", 0.0)
    by_rule = fit_scale(photos, setup)
    as_taken = photos
    if is_marked:
        photos = wiped_photos(photos, by_rule)
    found = _find_and_trace(photos, by_rule, progress)
    fit, place, traced = found.fit, found.place, found.traced
    picture = face_picture(photos, fit, place, found.views)
    bare = without_blades(picture)
    progress("looking for flaws", 0.7)
    raked, untold = (
        (None, []) if raking is None else _raked(raking, setup, place, bare, traced.outline)
    )
    wood = _not_grass(bare, see_wood(bare, traced.outline, traced.wane, raked=raked))
    if is_marked:
        picture = face_picture(as_taken, fit, place, own_views(as_taken, fit, place))
    reading, moved = read_off(picture, fit, place, traced, wood)
    reading, untrue = _held(
        reading,
        photos,
        found.sides,
        lambda one: read_off(picture, fit, place, one, SeenWood((), ()))[0],
    )
    # A marked board is known: it is laid over its own length and width, however little this photo
    # tells of them.
    by_fit = widest_u_mm(fit, place, traced.outline)
    quality = "rough" if is_marked else quality_of(reading, by_fit, name)
    ends_mm = place.rule_from_place(np.array(mid_line(traced.outline)))
    white = strip_white(photos, fit, place)
    no_wood = (*traced.wane, *(flaw.outlines[1] for flaw in wood.flaws))
    apart = (*wood.sapwood, *no_wood)
    # Of a marked board it is known that it is one, and its parts' lines may run through it.
    of_seams = [] if is_marked else doubts_of_seams(bare, traced.outline)
    of_outline = [*_outline_doubts(fit, traced, bare), *of_seams]
    progress("done", 1.0)
    return FaceScan(
        picture=moved,
        reading=reading,
        rule=fit.kind,
        photos=tuple(photo.name for photo in photos),
        u_scale=fit.u_scale,
        quality=quality,
        lens=evidence_of(fit, photos),
        card=(found.card.board, found.card.face) if found.card else None,
        colour=wood_colour(bare, traced.outline, apart, white) if white else None,
        sap_colour=wood_colour(bare, union_of(wood.sapwood), no_wood, white) if white else None,
        doubts=tuple(
            dict.fromkeys(
                [
                    *(doubt for photo in photos for doubt in photo.doubts),
                    *fit.doubts,
                    *off_the_tape(fit, ends_mm),
                    *untrue,
                    *of_outline,
                    *untold,
                ]
            )
        ),
        raking=None if raked is None else replace(raked, origin_mm=moved.origin_mm),
        saw_marks=None if raked is None else find_saw_marks(bare, raked, traced.outline),
        told=told_length(fit, ends_mm[0], ends_mm[1], reading.length),
    )


@dataclass(frozen=True, slots=True)
class _Found:
    """A board as it was traced last: by which fit, in which place and pictures of it."""

    fit: ScaleFit
    place: FacePlace
    views: tuple[FacePicture, ...]
    sides: SeenSides
    traced: TracedOutline
    card: SeenCard | None


def _find_and_trace(photos: tuple[Photo, ...], by_rule: ScaleFit, progress: Progress) -> _Found:
    """Find the board on its floor, and trace it until its tape is tied to the ends traced."""
    name = photos[0].name
    progress("finding the board", 0.3)
    place, floor, doubtful = rough_place(photos, by_rule, name)
    progress("tracing the outline", 0.4)
    traced, place = first_look(photos, by_rule, place, name, floor, doubtful)
    fit, traced, place = with_board(photos, by_rule, traced, place)
    cards = find_cards(photos[0])
    for left in reversed(range(_MOST_TRACES)):
        card = card_beside(fit, place, traced, cards)
        place = along_the_board(fit, place, traced, card[1] if card else None)
        views = own_views(photos, fit, place)
        progress("tracing the outline", 0.6)
        # The outline's map was taught with blades over the rim and does worse where they are
        # painted over; the finders of flaws do better.
        sides, traced = trace_views(views, floor, name)
        again = tied_anew(photos, by_rule, fit, traced, place) if left else None
        if again is None:
            break
        fit, traced, place = again
    return _Found(fit, place, views, sides, traced, card[0] if card else None)


def _outline_doubts(fit: ScaleFit, traced: TracedOutline, bare: FacePicture) -> list[str]:
    """Say what the lengths rest on, and what lay over the face's edges."""
    # Seen on a rendered photo: a rule read at half its steps doubled the board (bench-floor).
    alone = [_LONE_RULE] if fit.kind == "plain" and fit.setup.taped is None else []
    under = [_COVERED] if traced.covered else []
    lawn = [_ON_GRASS] if grass_over(bare, traced.outline) > 0 else []
    return [*alone, *under, *lawn]


def _held(
    reading: FaceReading,
    photos: tuple[Photo, ...],
    sides: SeenSides,
    read: Callable[[TracedOutline], FaceReading],
) -> tuple[FaceReading, list[str]]:
    """Return a face of several photos held against what each of them tells alone."""
    if len(photos) == 1:
        return reading, []
    alone, names = [], []
    for index, photo in enumerate(photos):
        # One that cannot be read alone says nothing against the others.
        with suppress(PhotoError):
            alone.append(read(trace_seen(sides.through(index), photo.name)))
            names.append(photo.name)
    return held_against_each(reading, alone, names)


def _raked(
    photo: Photo, setup: Setup, place: FacePlace, face: FacePicture, outline: Polygon
) -> tuple[FacePicture | None, list[str]]:
    """Return the low lamp's photo laid over the face and how near, or None and why not.

    Board and rule lie where they lay, so the board need not be found again under that light.
    """
    try:
        fit = fit_scale((photo,), setup)
        (flat,) = own_views((photo,), fit, place)
        laid = lay_over(face, outline, flat, outline, photo.name)
    except PhotoError as error:
        return None, [f"{photo.name} was not used: {error.what}"]
    if laid.along_u_mm <= MOST_APART_MM:
        return laid.picture, []
    return laid.picture, [
        f"{photo.name} lies over the first photo within {laid.along_u_mm:.1f} mm along the grain,"
        " where the wood shows little: a steadier phone, or a nearer one, tells more"
    ]


def first_outline(photos: tuple[Photo, ...], setup: Setup) -> FaceReading:
    """Return a face as its outline alone tells it: enough to see which faces are one board's.

    Raises
    ------
    PhotoError
        No scale, or no board.
    """
    name = photos[0].name
    fit = fit_scale(photos, setup)
    place, floor, doubtful = rough_place(photos, fit, name)
    traced, place = first_look(photos, fit, place, name, floor, doubtful)
    fit, traced, place = with_board(photos, fit, traced, place)
    # Only how well points are seen is asked of this picture.
    picture = flatten(photos, fit, place, GROUND_MM_PER_PX)
    return read_off(picture, fit, place, traced, SeenWood((), ()))[0]


def _not_grass(face: FacePicture, wood: SeenWood) -> SeenWood:
    """Return what is seen of the wood less what is grass; a person's own mark stays."""
    stays = tuple(
        flaw
        for flaw in wood.flaws
        if flaw.kind is FlawKind.MARKED or grass_over(face, flaw.outlines[1]) < _MOST_GRASS
    )
    return replace(wood, flaws=stays)
