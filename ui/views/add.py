"""Add boards from photos: several at once, each face in one photo or more."""

from dataclasses import replace

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from scanner.errors import ScannerError
from ui import apart
from ui.desks import Desk, Job, Progress, Trouble
from ui.downloads import strip_url
from ui.kept_fields import (
    kept_option,
    kept_photos,
    kept_text,
    kept_tick,
    mean,
    used_up,
    were_chosen,
)
from ui.later_photo import RULE, STRIP
from ui.own_units import thickness_with_unit, what_bare_means, with_unit
from ui.photo_pairs import ChosenBoard, pair_up
from ui.texts import say_problem
from ui.uploads import BATTEN, STRIP_TAPED, BoardUploads, TypedFacts, Upload
from ui.views.tap_rule import tap_in_turn
from ui.warp_drawings import DRAWINGS, WORDS


def add_boards_form(desk: Desk, *, is_first: bool) -> None:
    """Offer to add boards from a photo of each face."""
    busy = desk.job is not None and desk.job.is_running
    is_begun = were_chosen(desk, "photos")
    with st.expander("Add boards from photos", expanded=is_first or is_begun):
        # Shown while a scan goes on as well: fields that are not shown forget their photos.
        _ask(desk, is_first, busy)


def _ask(desk: Desk, is_first: bool, busy: bool) -> None:
    files = kept_photos(
        desk,
        "photos",
        # New fields once all of them became boards; until then none is asked for again.
        f"photos-{desk.rounds}",
        "Photos of face 1 and face 2 of each board, in the order they were taken",
    )
    # What lies beside the boards is asked first: a photo is judged by the rule in it.
    facts = _facts(desk, one_board=len(files) < 3)
    boards = pair_up(desk, files, facts.rule, is_taped=bool(facts.taped or facts.strip_taped))
    if not facts.rule:
        _offer_rule(desk, boards)
    corners = _corners(desk, boards, facts.rule)
    label = "Scan this board" if len(boards) < 2 else f"Scan these {len(boards)} boards"
    if st.button(label, type="primary" if is_first else "secondary", disabled=busy):
        if not boards:
            st.error("There is no photo of face 1: choose or take one, then scan.")
            return
        try:
            # Before a process is started for it: that takes seconds.
            facts.options()
        except ScannerError as problem:
            say_problem(problem)
            return
        _start(desk, boards, corners, facts)
        st.rerun()
    if busy:
        st.write("How far it is stands at the top of the page.")


def _offer_rule(desk: Desk, boards: list[ChosenBoard]) -> None:
    """Offer to say that a plain rule lies there where no strip is seen: the question stands above.

    A strip that is meant and not found must be told apart by the user, so it is no more than that.
    """
    looks = [desk.looks.look_of(photo, "") for board in boards for photo in board.photos]
    if looks and all(look is not None and not look.will_do and not look.rule_px for look in looks):
        said = "this photo" if len(looks) == 1 else "these photos"
        st.write(f"No strip is seen in {said}.")
        st.button("A plain rule lies there", on_click=mean, args=(desk, "add/beside", RULE))


def _corners(desk: Desk, boards: list[ChosenBoard], rule: str) -> list[tuple[str, str]]:
    """Offer to tap a plain rule where it was not found; return the corners of each board."""
    untapped = [("", "") for _ in boards]
    if not rule or not boards:
        return untapped
    looks = {photo.file_id: desk.looks.look_of(photo, rule) for b in boards for photo in b.photos}
    found = {name: bool(look and look.rule_px) for name, look in looks.items()}
    missing = sum(look is not None and not look.rule_px for look in looks.values())
    # Its place is kept while the photos are still looked at: what lies below it stays as it is.
    told = st.empty()
    if missing:
        photos = "one photo" if missing == 1 else f"{missing} photos"
        told.write(f"The rule was not found in {photos}: tap its four corners there.")
    label = "Tap the rule's corners on the photos"
    if not kept_tick(desk, "add/tap-rule", label, is_switch=True):
        return untapped
    return tap_in_turn(boards, rule, found)


def _facts(desk: Desk, *, one_board: bool) -> TypedFacts:
    st.write(what_bare_means(desk))
    left, right = st.columns(2)
    species = kept_text(desk, left, "add/species", "Species", example="white ash")
    thickness = kept_text(
        desk, right, "add/thickness", "Thickness (4/4, 1 1/16 in or 27 mm)", default="4/4"
    )
    left, right = st.columns(2)
    beside = kept_option(desk, left, "add/beside", "What lies beside the board?", [STRIP, RULE])
    facts = TypedFacts(species=species, thickness=thickness_with_unit(desk, thickness))
    if beside == RULE:
        rule = kept_text(desk, right, "add/rule", "Length of the rule", default="36 in")
        facts = replace(facts, rule=with_unit(desk, rule))
    else:
        strip = kept_text(desk, right, "add/strip", STRIP_TAPED)
        # Without it the strip is taken to lie on the floor, and every length is off by what the
        # batten lifts it.
        batten = kept_text(desk, right, "add/batten", BATTEN)
        facts = replace(facts, strip_taped=with_unit(desk, strip), batten=with_unit(desk, batten))
        with left:
            _offer_strip()
    if one_board:
        # One board's own: empty again once it is scanned, or the next would be given its size.
        number = used_up(desk, "photos")
        label = "Length of the board as taped (may be left empty)"
        taped = kept_text(desk, st.container(), f"add/board-taped-{number}", label)
        facts = replace(facts, taped=with_unit(desk, taped))
        label = "Measured bow, cup or twist"
        if kept_tick(desk, f"add/warp-{number}", label, is_switch=True):
            facts = _warp(desk, facts, number)
    return facts


def _offer_strip() -> None:
    """Offer the strip to print: nobody has one when the page is opened for the first time."""
    with st.expander("No strip yet? Print one"):
        length = st.text_input("At least as long as your boards", "8 ft")
        with st.container(horizontal=True):
            st.link_button("Strip on A4", strip_url(length, "a4"))
            st.link_button("Strip on Letter", strip_url(length, "letter"))
        st.write(
            "Print it at 100 %, not fitted to the page, and see with a steel rule that a piece "
            "is 250.0 mm from joint line to joint line. Glue the pieces onto a straight, flat "
            "batten; then tape it from zero to the last joint line and give that length with every "
            "scan."
        )


def _warp(desk: Desk, facts: TypedFacts, number: int) -> TypedFacts:
    """Ask how the board is warped, each beside a drawing of how it is measured."""
    typed = {}
    for kind, column in zip(DRAWINGS, st.columns(3), strict=True):
        with column:
            st.image(DRAWINGS[kind](), width=300, alt=f"How to measure {kind}")
            st.write(WORDS[kind])
            label = f"{kind.capitalize()} (may be left empty)"
            size = kept_text(desk, column, f"add/{kind}-{number}", label)
            typed[kind] = with_unit(desk, size)
    st.write(
        "With face 1 hollow write a plus, with face 1 crowned a minus; without a sign both are "
        "reckoned with."
    )
    return replace(facts, bow=typed["bow"], cup=typed["cup"], twist=typed["twist"])


def _start(
    desk: Desk, boards: list[ChosenBoard], corners: list[tuple[str, str]], facts: TypedFacts
) -> None:
    ids = [tuple(photo.file_id for photo in board.photos) for board in boards]
    uploads = [
        BoardUploads(_uploads(board.face_1), _uploads(board.face_2), *tapped)
        for board, tapped in zip(boards, corners, strict=True)
    ]

    def scan(progress: Progress) -> Trouble | None:
        outcomes = apart.work_apart(
            apart.add_uploads, desk.lot.path, uploads, facts, progress=progress
        )
        for outcome, files in zip(outcomes, ids, strict=True):
            if outcome.board is not None:
                desk.scanned.update(files)
        problems = [outcome.problem for outcome in outcomes if outcome.problem]
        if not problems:
            desk.rounds += 1
            return None
        pictures = tuple(outcome.picture for outcome in outcomes if outcome.picture)
        return Trouble("\n\n".join(problems), pictures)

    desk.job = Job("Scanning", scan)


def _uploads(photos: tuple[UploadedFile, ...]) -> tuple[Upload, ...]:
    return tuple(Upload(photo.name, photo.getvalue()) for photo in photos)
