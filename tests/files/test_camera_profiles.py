import numpy as np
import pytest

from scanner.errors import FileError
from scanner.files.camera_profiles import (
    PhoneProfile,
    TapeProof,
    read_profiles,
    with_scan,
    write_profiles,
)
from scanner.vision.evidence.lens_evidence import LensEvidence, Phone
from scanner.vision.evidence.observations import LensPrior
from scanner.vision.fit.profile import taught

PHONE = Phone("Maker Phone 7", 26, (4032, 3024))
OTHER = Phone("Maker Phone 7 wide", 13, (4032, 3024))


def evidence(phone=PHONE, photo="f3a1"):
    return LensEvidence(phone, np.eye(4) * 100.0, np.arange(4.0), photos=(photo,))


def test_a_profile_file_reads_back_as_written(tmp_path):
    proof = TapeProof("B01", "strip", 2438.1, 4.2, 2440.0, 1.5)
    path = tmp_path / "phones.json"
    write_profiles(path, [PhoneProfile(evidence(), ("B01",), (proof,))])
    (back,) = read_profiles(path)
    assert back.lens.phone == PHONE
    assert back.lens.precision == pytest.approx(np.eye(4) * 100)
    assert back.lens.weighted == pytest.approx(np.arange(4.0))
    assert (back.boards, back.proofs) == (("B01",), (proof,))


def test_lenses_taught_by_older_rules_are_learned_anew_and_boards_and_proofs_kept(tmp_path):
    proof = TapeProof("B01", "strip", 2438.1, 4.2, 2440.0, 1.5)
    path = tmp_path / "phones.json"
    write_profiles(path, [PhoneProfile(evidence(), ("B01",), (proof,))])
    path.write_text(path.read_text().replace('"version": 2', '"version": 1'))
    (old,) = read_profiles(path)
    assert (old.boards, old.proofs) == (("B01",), (proof,))
    prior = LensPrior((4032, 3024), 3000.0, 0.023, 28.0)
    untaught = taught(prior, old.lens)
    assert (untaught.focal_px, untaught.sd_log_focal) == pytest.approx((3000.0, 0.023))
    # A photo that taught by them may teach again.
    (again,) = with_scan((old,), [evidence()], "B01")
    assert (again.lens.scans, again.lens.weighted) == (1, pytest.approx(np.arange(4.0)))


def test_every_photo_improves_its_own_phone_once():
    profiles = with_scan((), [evidence(photo="face1"), evidence(photo="face2")], "B01")
    assert [one.lens.scans for one in profiles] == [2]
    again = with_scan(profiles, [evidence(photo="face1")], "B01")
    assert [one.lens.scans for one in again] == [2]
    # The next lot has a B01 of its own.
    more = with_scan(again, [evidence(OTHER), evidence(photo="face3")], "B01")
    assert {one.lens.phone: one.lens.scans for one in more} == {PHONE: 3, OTHER: 1}
    assert [one.boards for one in more] == [("B01",), ("B01",)]


def test_a_missing_file_is_an_empty_one(tmp_path):
    assert read_profiles(tmp_path / "none.json") == ()


@pytest.mark.parametrize("text", ["", "{}", '{"format": "board", "version": 1, "phones": []}'])
def test_another_file_is_refused_in_one_sentence(tmp_path, text):
    path = tmp_path / "other.json"
    path.write_text(text)
    with pytest.raises(FileError, match=r"other\.json is no file of camera profiles .*\.$"):
        read_profiles(path)


def test_a_length_off_by_more_than_both_u_did_not_hold():
    held = TapeProof("B01", "strip", 2440.0, 4.0, 2443.0, 1.5)
    broke = TapeProof("B02", "strip", 2440.0, 4.0, 2445.0, 1.5)
    assert (held.held, broke.held) == (True, False)
