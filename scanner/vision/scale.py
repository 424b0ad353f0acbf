"""Find the reference (coded strip or plain rule), fit the camera; every length with its U."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from scanner.errors import PhotoError, TooNearError
from scanner.vision.cv import Bytes, grey_of
from scanner.vision.evidence.seen import Seen, SeenMarkers, SeenRule
from scanner.vision.fit.as_printed import (
    doubts_of_joints,
    each_loosened,
    loosened,
    refuse_odd_squares,
)
from scanner.vision.fit.assemble import FEWEST_MARKERS, assemble
from scanner.vision.fit.least_squares import solve
from scanner.vision.fit.lens import lens_priors
from scanner.vision.fit.piece_sizes import (
    LEAST_GAIN,
    doubts_of_sizes,
    likeliest_odd,
    refuse_many_sizes,
    with_own_size,
)
from scanner.vision.fit.scale_fit import ScaleFit
from scanner.vision.fit.verdict import (
    MOST_DROPPED,
    doubts_of,
    odd_width_mm,
    refuse_gap,
    refuse_misfit,
    refuse_near,
)
from scanner.vision.rule.edge_bleed import bleed_of_edges
from scanner.vision.rule.find import MEND, find_rules
from scanner.vision.rule.strip import find_strip

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.board.board import RuleKind
    from scanner.vision.cv import Floats
    from scanner.vision.evidence.observations import LensPrior, Observations
    from scanner.vision.fit.least_squares import Solution
    from scanner.vision.photos.picture import Photo
    from scanner.vision.rule.read_markers import Look
    from scanner.vision.setup import Corners, Setup

    # Poses to start from, of each photo; a solution and its mirror twins.
    Starts = list[list[tuple[Floats, Floats]]]
    Solved = tuple[Solution, tuple[Solution, ...]]


def fit_seen(
    seen: tuple[Seen, ...],
    setup: Setup,
    kind: RuleKind,
    doubts: tuple[str, ...] = (),
    progress: Callable[[float], None] | None = None,
    *,
    however_near: bool = False,
) -> ScaleFit:
    """Return the scale of one face from what was found in its photos.

    ``however_near`` keeps photos that are too near to measure a board on.

    Raises
    ------
    PhotoError
        Too little was found, or no camera could have seen it so.
    """
    if kind == "strip":
        for one in seen:
            count = 0 if one.markers is None else len(one.markers.ids)
            if count < FEWEST_MARKERS:
                raise PhotoError(
                    f"Only {count} markers of the strip are readable in {one.name}",
                    "go nearer, or clear what covers the strip, and take the photo again",
                )
    observations, starts = assemble(seen, setup)
    solution, twins = solve(observations, starts, progress)
    refuse_odd_squares(solution, " and ".join(one.name for one in seen))
    observations, (solution, twins) = _as_glued(observations, starts, (solution, twins))
    refuse_many_sizes(solution, " and ".join(one.name for one in seen))
    fit = ScaleFit(
        kind=kind,
        doubts=(),
        solution=solution,
        twins=twins,
        observations=observations,
        setup=setup,
        names=tuple(one.name for one in seen),
        sizes_px=tuple(one.lens.size_px for one in seen),
        corners=_corners(seen[0]),
    )
    refuse_misfit(fit)
    if not however_near:
        refuse_near(fit)
    refuse_gap(fit)
    return replace(fit, doubts=doubts + _doubts_of_strip(solution) + doubts_of(fit))


def _doubts_of_strip(solution: Solution) -> tuple[str, ...]:
    return doubts_of_joints(solution) + doubts_of_sizes(solution)


def _as_glued(whole: Observations, starts: Starts, solved: Solved) -> tuple[Observations, Solved]:
    """Return what was seen, with joints left free that slipped, or a piece given its own size."""
    observations, freed = _joints_freed(whole, starts, solved)
    odd = likeliest_odd(solved[0])
    if odd is None and freed is not solved:
        odd = likeliest_odd(freed[0])
    if odd is not None:
        own_size = with_own_size(whole, odd)
        looser, tried = _joints_freed(own_size, starts, solve(own_size, starts))
        if tried[0].cost < freed[0].cost - LEAST_GAIN:
            return looser, tried
    return observations, freed


def _joints_freed(
    whole: Observations, starts: Starts, solved: Solved
) -> tuple[Observations, Solved]:
    """Return what was seen, each joint that slipped left free, and its solution."""
    observations, solved = _slipped_freed(whole, starts, solved)
    if solved[0].dropped_share > MOST_DROPPED:
        # A last joint that is off by far: its whole piece was left out as strays.
        for looser in each_loosened(whole):
            tried = solve(looser, starts)
            if tried[0].dropped_share < solved[0].dropped_share:
                # With that piece in, others that slipped show, too.
                observations, solved = _slipped_freed(looser, starts, tried)
    return observations, solved


def _slipped_freed(
    observations: Observations, starts: Starts, solved: Solved
) -> tuple[Observations, Solved]:
    while (looser := loosened(solved[0], observations)) is not None:
        observations, solved = looser, solve(looser, starts)
    return observations, solved


def _corners(seen: Seen) -> tuple[tuple[float, float], ...]:
    if seen.rules:
        return tuple((float(x), float(y)) for x, y in seen.rules[0].corners)
    return ()


def fit_scale(
    photos: tuple[Photo, ...],
    setup: Setup,
    progress: Callable[[float], None] | None = None,
    *,
    however_near: bool = False,
    at_a_glance: bool = False,
    strip_seen: Look | None = None,
) -> ScaleFit:
    """Return the scale of one face from all its photos (shared lens, own poses).

    ``however_near`` keeps photos that are too near to measure a board on; ``at_a_glance`` looks
    less long for a strip, and at a plain rule only till it is plain; ``strip_seen`` is what one
    look at the first photo showed of a strip, where that is known.

    Raises
    ------
    PhotoError
        No reference in a photo, or one that the photo disproves.
    """
    report = progress or (lambda _share: None)
    priors = lens_priors(photos, setup.lenses)
    doubts = [doubt for photo in photos for doubt in photo.doubts]
    seen = []
    alone: ScaleFit | None = None
    for index, (photo, prior) in enumerate(zip(photos, priors, strict=True)):
        grey = grey_of(photo.pixels)
        if setup.rule is None:
            look = strip_seen if index == 0 else None
            markers = _strip_or_refuse(photo, grey, look, at_a_glance=at_a_glance)
            seen.append(Seen(photo.name, prior, markers=markers))
            # Of one strip all photos say the same.
            doubts += [doubt for doubt in markers.doubts if doubt not in doubts]
        else:
            corners = setup.corners if index == 0 else None
            one, alone = _rule_or_refuse(
                photo, prior, grey, setup, corners, at_a_glance=at_a_glance
            )
            seen.append(one)
            doubts += [doubt for rule in seen[-1].rules for doubt in rule.doubts]
        report(0.7 * (index + 1) / len(photos))
    kind: RuleKind = "strip"
    if setup.rule is not None:
        kind = "tapped" if setup.corners is not None else "plain"
    if alone is not None and len(photos) == 1:
        report(1.0)
        return replace(alone, kind=kind, doubts=tuple(doubts) + alone.doubts)
    return fit_seen(
        tuple(seen),
        setup,
        kind,
        tuple(doubts),
        lambda share: report(0.7 + 0.3 * share),
        however_near=however_near,
    )


def _strip_or_refuse(
    photo: Photo, grey: Bytes, look: Look | None, *, at_a_glance: bool
) -> SeenMarkers:
    markers = find_strip(photo, grey, at_a_glance=at_a_glance, first=look)
    if markers is None:
        raise PhotoError(
            f"No reference rule found in {photo.name}, so there is no scale",
            "lay the coded strip flat beside the board, all of it in view, and go nearer until its "
            "squares show sharp, or say which plain rule lies there",
        )
    return markers


def _rule_or_refuse(
    photo: Photo,
    prior: LensPrior,
    grey: Bytes,
    setup: Setup,
    corners: Corners | None,
    *,
    at_a_glance: bool,
) -> tuple[Seen, ScaleFit | None]:
    """Return the first bar of a photo that a camera above the floor can have seen as the rule.

    And the scale that this photo gives alone, but for one that is too near to measure a board on.
    """
    found = find_rules(photo.name, grey, setup, corners, photo.focal_px, at_a_glance=at_a_glance)
    refusal: PhotoError | None = None
    near: Seen | None = None
    odd: ScaleFit | None = None
    for bars in found:
        seen = _with_bleed(photo, prior, grey, bars)
        try:
            fit = fit_seen((seen,), setup, "plain")
        except TooNearError:
            # Nothing else speaks against it; the whole fit will say that it is too near.
            if near is None and not any(rule.doubts for rule in seen.rules):
                near = seen
            continue
        except PhotoError as error:
            refusal = refusal or error
            continue
        if corners is None and odd_width_mm(fit):
            odd = odd or fit
            continue
        return seen, fit
    if near is not None:
        return near, None
    if odd is not None and not at_a_glance:
        return _along_either_edge(photo, prior, grey, setup, odd)
    if at_a_glance and corners is None:
        # No camera saw the first outline so; another one may be the rule's own.
        return _rule_or_refuse(photo, prior, grey, setup, None, at_a_glance=False)
    if corners is not None and refusal is not None:
        raise refusal
    raise PhotoError(f"No reference rule found in {photo.name}, so there is no scale", MEND)


def _with_bleed(photo: Photo, prior: LensPrior, grey: Bytes, bars: tuple[SeenRule, ...]) -> Seen:
    rules = tuple(replace(bar, bleed=bleed_of_edges(grey, bar)) for bar in bars)
    return Seen(photo.name, prior, rules=rules)


def _along_either_edge(
    photo: Photo, prior: LensPrior, grey: Bytes, setup: Setup, odd: ScaleFit
) -> tuple[Seen, ScaleFit]:
    """Return the rule of a bar that is seen much wider than told, read anew as wide as told.

    One of the bar's long edges is the rule's own, the other a joint's, say: the rule is looked for
    on the inner side of each, between where its corners would then lie.

    Raises
    ------
    PhotoError
        It is read along neither: its width was told wrongly.
    """
    length, width = odd.observations.references[0].size_mm
    half = (width + odd_width_mm(odd)) / 2
    for edge, other in ((half, half - width), (-half, width - half)):
        around = np.array([(0.0, edge), (length, edge), (length, other), (0.0, other)])
        corners = tuple((float(x), float(y)) for x, y in odd.reference_px(0, 0, around))
        with suppress(PhotoError):
            for bars in find_rules(photo.name, grey, setup, corners, photo.focal_px):
                # Nobody tapped it: without graduations it is nothing.
                read = tuple(replace(bar, was_tapped=False) for bar in bars if bar.ticks)
                seen = _with_bleed(photo, prior, grey, read)
                fit = fit_seen((seen,), setup, "plain")
                if not odd_width_mm(fit):
                    return seen, fit
    told = f"{width:.0f} mm as told"
    raise PhotoError(
        f"The rule in {photo.name} is seen {width + odd_width_mm(odd):.0f} mm wide, not {told}",
        "give the rule's true width, or tap its four corners",
    )
