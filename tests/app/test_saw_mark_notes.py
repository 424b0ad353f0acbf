from scanner.app.scanning.saw_mark_notes import saw_mark_note
from scanner.vision.photos.picture import SawMarks


def test_a_note_says_how_marks_run_and_where_to_look_first():
    note = saw_mark_note(1, SawMarks(False, 0.4, 0.0, ((312.0, 412.0), (737.0, 762.0))))
    assert "straight across" in note
    assert "310-410, 740-760 mm from end A" in note
    assert "a photo does not tell" in note


def test_places_on_a_face_that_was_turned_end_over_end_count_from_end_a():
    marks = SawMarks(True, 8.0, 0.0, ((100.0, 200.0), (1500.0, 1600.0)))
    note = saw_mark_note(2, marks, lambda x_mm: 1700.0 - x_mm)
    assert "face 2" in note
    assert "arcs" in note
    assert "100-200, 1500-1600 mm" in note


def test_neither_saw_nor_place_is_told_where_the_face_does_not_say():
    assert saw_mark_note(1, SawMarks(None, 2.0, 0.0)) == (
        "face 1: under the low lamp saw marks run across it"
    )
