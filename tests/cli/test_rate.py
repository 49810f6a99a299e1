"""Rating, looking again and photos by the command line."""

from __future__ import annotations

import json
from functools import partial
from typing import TYPE_CHECKING

import pytest

from records.domain.follow_up import Photo
from records.errors import InputError, UsageError
from records.settings import read_settings
from records.storage.photos import LARGEST, PhotoFolder, kind_of

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

LATER = "2026-11-10T17:00-06:00"
NEXT_WEEK = "2026-10-15T17:00-05:00"
JPEG = b"\xff\xd8\xff\xe0 a photo"


def test_one_line_rates_and_is_listed(year: Path, swathbook: Swathbook) -> None:
    ran = swathbook(
        "--book", year, "rate", "union-900", "ground=85", "--injury", 5, "--before", 30, "--cover", 5,
        "--rain", "0.4 in", "--mowed", "2026-10-20", "--since", "hose out", "--by", "mo", at=LATER,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    assert "ground ivy at union-900, 33 days after Brindle 4L" in ran.out
    assert "85 % (by eye), good" in ran.out or "85 %, good to very good" in ran.out
    assert "rain 0.4 in; mowed 2026-10-20; hose out" in ran.words
    listed = swathbook("--book", year, "ratings", "--target", "IVY", "--product", "brindle", "--person", "mo", at=LATER)
    assert "85 %" in listed.out
    (one,) = swathbook("--book", year, "ratings", "--json", at=LATER).json["ratings"]
    assert (one["control"], one["days_after"], one["class"], one["cover_before"]) == (
        "85",
        33,
        "good to very good",
        "30",
    )
    assert "no rating fits" in swathbook("--book", year, "ratings", "--target", "clover", at=LATER).out
    verified = swathbook("--book", year, "verify", at=LATER)
    assert (verified.code, "whole" in verified.out) == (0, True)
    gone = swathbook("--book", year, "withdraw", one["event"], "--reason", "wrong lawn", at=LATER)
    assert gone.code == 0, gone.err
    assert swathbook("--book", year, "ratings", "--json", at=LATER).json["ratings"] == []


def test_the_person_of_this_machine_rates(year: Path, swathbook: Swathbook, monkeypatch: pytest.MonkeyPatch) -> None:
    bare = swathbook("--book", year, "rate", "union-900", "ground", "--count", "40:6", "--check", "38:35", at=LATER)
    assert bare.code == 0, bare.err
    assert "note: nobody is named as rater: --by PERSON" in bare.err
    monkeypatch.setenv("SWATHBOOK_PERSON", "mo")
    ran = swathbook("--book", year, "rate", "union-900", "80", at=LATER)
    assert "note: rated by Mo Lindqvist (SWATHBOOK_PERSON)" in ran.err
    assert "another person" not in ran.err
    assert "SWATHBOOK_PERSON" not in swathbook("--book", year, "rate", "union-900", "80", "--by", "ines", at=LATER).err
    listed = swathbook("--book", year, "ratings", "--json", at=LATER).json["ratings"]
    assert [one["by"] for one in listed][:2] == [None, "Mo Lindqvist"]


def test_looks_are_listed_with_what_to_expect_and_how_to_rate(year: Path, swathbook: Swathbook) -> None:
    ran = swathbook("--book", year, "looks", "--site", "union", "--days", 14, at="2026-10-21T18:00-05:00")
    assert ran.code == 0, ran.err
    assert "900 Union Street: ground ivy (Brindle 4L, day" in ran.words
    assert "label: Leaves twist within 2 days" in ran.words
    assert "> swathbook rate 2026-" in ran.out
    found = swathbook("--book", year, "looks", "--json", at="2026-10-21T18:00-05:00").json["looks"]
    assert found
    assert all(one["rate"].startswith("swathbook rate 2026-") for one in found)
    assert "nothing is due" in swathbook("--book", year, "looks", "--on", "2026-02-01").out


@pytest.mark.parametrize(
    ("group", "days", "known"), [("2", "14, 28, 42", "University of California"), ("77", "7", "memory")]
)
def test_why_a_group_is_looked_at_on_these_days(
    group: str, days: str, known: str, year: Path, swathbook: Swathbook
) -> None:
    ran = swathbook("--book", year, "looks", "--why", group)
    assert days in ran.out
    assert known in ran.words
    told = swathbook("--book", year, "looks", "--why", group, "--json").json
    assert {told[name]["status"] for name in ("looked at", "first signs", "judged")} <= {"verified", "memory"}


def test_photos_lie_beside_the_book_by_their_hash(year: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    photo = tmp_path / "=lawn;rm.jpg"
    photo.write_bytes(JPEG)
    ran = swathbook("--book", year, "rate", "union-900", "85", "--photo", photo, at=LATER)
    assert ran.code == 0, ran.err
    (kept,) = (year.parent / "year.db.photos").iterdir()
    assert kept.read_bytes() == JPEG
    assert swathbook("--book", year, "verify", at=LATER).code == 0
    done = swathbook("--book", year, "backup", tmp_path / "copy.db", "--json", at=LATER)
    assert done.json["photos"] == 1
    assert (tmp_path / "copy.db.photos" / kept.name).read_bytes() == JPEG
    kept.write_bytes(JPEG + b"!")
    changed = swathbook("--book", year, "verify", at=LATER)
    assert (changed.code, "was changed after it was sealed" in changed.words) == (1, True)
    kept.unlink()
    lost = swathbook("--book", year, "verify", at=LATER)
    assert (lost.code, "copy it there from a backup" in lost.words) == (0, True)
    back = swathbook("--book", year, "restore", tmp_path / "copy.db", at=LATER)
    assert back.code == 0, back.err
    assert kept.read_bytes() == JPEG


def test_a_backup_without_a_photo_says_so_and_is_kept(year: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    """One photo was deleted and one changed: both are named, on the way out and on the way back."""
    run = partial(swathbook, "--book", year, at=LATER)
    assert "beside it" not in run("backup", tmp_path / "none.db").out
    for name in ("gone", "changed", "whole"):
        (tmp_path / f"{name}.jpg").write_bytes(JPEG + name.encode())
    photos = [word for name in ("gone", "changed", "whole") for word in ("--photo", tmp_path / f"{name}.jpg")]
    assert run("rate", "union-900", "85", *photos).code == 0
    full = run("backup", tmp_path / "full.db")
    assert (full.code, "3 photos are beside it" in full.out) == (0, True)
    folder = year.parent / "year.db.photos"
    for path in folder.iterdir():
        if path.read_bytes().endswith(b"gone"):
            path.unlink()
        elif path.read_bytes().endswith(b"changed"):
            path.write_bytes(JPEG + b"chanted")  # of the same size
    done = run("backup", tmp_path / "part.db")
    assert done.code == 1
    assert "1 of 3 photos beside it" in done.out
    assert "the photo gone.jpg is not in" in done.words
    assert "the photo changed.jpg was changed after it was sealed" in done.words
    assert "whole.jpg" not in done.out
    told = run("backup", tmp_path / "part.db", "--replace", "--json")
    assert (told.code, told.json["photos_sealed"], len(told.json["photos_missing"])) == (1, 3, 2)
    # What an earlier backup of that name holds is still whole there
    assert run("backup", tmp_path / "full.db", "--replace").code == 0
    assert swathbook("--book", tmp_path / "part.db", "ratings", at=LATER).code == 0
    back = run("restore", tmp_path / "part.db")
    assert (back.code, "1 of 3 photos beside it" in back.out) == (1, True)
    healed = run("restore", tmp_path / "full.db")
    assert (healed.code, "3 photos are beside it" in healed.out) == (0, True)
    assert run("verify").code == 0


def test_a_rating_that_an_amendment_left_behind_is_told(year: Path, swathbook: Swathbook) -> None:
    run = partial(swathbook, "--book", year, at=LATER)
    assert run("rate", "union-900", "ground=85").code == 0
    (one,) = run("ratings", "--json").json["ratings"]
    record, event = one["record"], one["event"]
    change = (
        "amend",
        record,
        "--set",
        "treatments[0].targets=broadleaf plantain",
        "--reason",
        "wrong weed",
        "--by",
        "mo",
    )
    ran = run(*change)
    assert ran.code == 0, ran.err
    assert f"note: {event} rates ground ivy, which this record does not name any more" in ran.words
    assert f"swathbook withdraw {event}" in ran.words
    assert "does not name it any more: counted nowhere" in run("ratings").words
    assert "does not name it any more: counted nowhere" in run("show", record).words
    assert "** " + record + " does not name it any more" in run("show", event).words
    (told,) = run("ratings", "--json").json["ratings"]
    assert (told["stray"], told["late"]) == (True, False)
    asked = run("amend", record, "--set", "remarks=gate open", "--reason", "forgot", "--by", "mo", "--json")
    assert event in asked.json["notes"][0]
    back = ("amend", record, "--set", "treatments[0].targets=ground ivy", "--reason", "right after all", "--by", "mo")
    assert "note:" not in run(*back).words
    assert [one["stray"] for one in run("ratings", "--json").json["ratings"]] == [False]


def test_every_group_or_that_of_a_product_is_told(year: Path, swathbook: Swathbook) -> None:
    every = swathbook("--book", year, "looks", "--why")
    assert every.code == 0, every.err
    assert "glutamine" in every.out
    assert every.out == swathbook("--book", year, "looks", "--why", "all").out
    told = swathbook("--book", year, "looks", "--why", "--json").json["groups"]
    assert {"4", "2", "10", "14", "27"} <= {one["group"] for one in told}
    assert "group 27, HPPD inhibitor" in swathbook("--book", year, "looks", "--why", "tessaly-4sc").out
    assert "not in the table" in swathbook("--book", year, "looks", "--why", "33").out
    for word, hint in (("tesaly-4sc", "Did you mean tessaly-4sc"), ("wombat", "The groups: 4 synthetic auxin")):
        ran = swathbook("--book", year, "looks", "--why", word)
        assert (ran.code != 0, hint in ran.words, "28" in ran.out) == (True, True, False)


def test_what_is_no_photo_is_refused_before_anything_is_sealed(
    year: Path, swathbook: Swathbook, tmp_path: Path
) -> None:
    script = tmp_path / "photo.jpg"
    script.write_text("#!/bin/sh\n", "utf-8")
    ran = swathbook("--book", year, "rate", "union-900", "85", "--photo", script, at=LATER)
    assert ran.code != 0
    assert "is no photo" in ran.err
    assert swathbook("--book", year, "ratings", "--json", at=LATER).json["ratings"] == []
    missing = swathbook("--book", year, "rate", "union-900", "85", "--photo", tmp_path / "none.jpg", at=LATER)
    assert "cannot be read" in missing.err


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (JPEG, "jpg"),
        (b"\x89PNG\r\n\x1a\n....", "png"),
        (b"RIFF\x00\x00\x00\x00WEBPVP8 ", "webp"),
        (b"\x00\x00\x00\x18ftypheic....", "heic"),
    ],
)
def test_photos_are_known_by_how_they_begin(data: bytes, kind: str) -> None:
    assert kind_of(data) == kind


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"....\x00\x00\x00\x00WEBPVP8 ", b"%PDF-1.7", b"\x00" * 20])
def test_what_is_no_photo(data: bytes) -> None:
    with pytest.raises(InputError, match="is no photo"):
        kind_of(data)


def test_a_photo_has_bounds_and_is_kept_once(tmp_path: Path) -> None:
    folder = PhotoFolder(tmp_path / "photos")
    first, second = folder.keep(JPEG), folder.keep(JPEG)
    assert first == second
    assert len(list((tmp_path / "photos").iterdir())) == 1
    assert folder.path_of(Photo("a", first, 1)) is not None
    with pytest.raises(InputError, match="at most"):
        kind_of(b"\xff\xd8\xff" + bytes(LARGEST))


def test_an_export_carries_ratings(year: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    assert swathbook("--book", year, "rate", "union-900", "85", at=LATER).code == 0
    lines = tmp_path / "book.jsonl"
    assert swathbook("--book", year, "export", "--out", lines, at=LATER).code == 0
    events = [json.loads(line).get("body") for line in lines.read_text("utf-8").splitlines()]
    assert any(body and body.get("origin") == {"kind": "rating"} for body in events)
    other = tmp_path / "other.db"
    assert swathbook("--book", other, "import", lines, at=LATER, watched=False).code == 0
    assert swathbook("--book", other, "ratings", "--json", at=LATER).json["ratings"][0]["control"] == "85"


def test_ratings_stand_under_their_treatment_by_days(year: Path, swathbook: Swathbook) -> None:
    for at, control, injury in ((NEXT_WEEK, 30, 10), (LATER, 85, 0)):
        ran = swathbook("--book", year, "rate", "union-900", control, "--injury", injury, "--by", "mo", at=at)
        assert ran.code == 0, ran.err
    assert swathbook("--book", year, "rate", "union-900", "--count", "40:6", "--check", "38:35", at=LATER).code == 0
    ran = swathbook("--book", year, "ratings", at=LATER)
    head, first, second, third = ran.out.splitlines()
    assert head.endswith("union-900, 2026-10-08: Brindle 4L")
    assert " ".join(first.split()) == "ground ivy day 7 30 % poor; injury 10 %, mo, E-000001"
    assert " ".join(second.split()) == "ground ivy day 33 85 % good to very good; mo, E-000002"
    assert " ".join(third.split()) == "ground ivy day 33 84 % Henderson-Tilton, good to very good; E-000003"
    assert "3 ratings" in ran.err
    serial = head.split()[0]
    shown = swathbook("--book", year, "show", serial, at=LATER)
    assert "rated since" in shown.out
    assert "30 % control, 10 % injury of the turf after 7 days" in shown.words
    assert len(swathbook("--book", year, "ratings", serial, "--json", at=LATER).json["ratings"]) == 3
    one = swathbook("--book", year, "ratings", "--from", "2026-11", "--person", "lindqvist", "--json", at=LATER)
    assert [rating["event"] for rating in one.json["ratings"]] == ["E-000002"]
    wrong = swathbook("--book", year, "ratings", "--from", "2026-11", "--to", "2026-10", at=LATER)
    assert (wrong.code, "no day lies between" in wrong.err) == (2, True)


def test_one_rating_is_shown_in_full(year: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    photo = tmp_path / "lawn.jpg"
    photo.write_bytes(JPEG)
    ran = swathbook(
        "--book", year, "rate", "union-900", "--count", "40:6", "--check", "38:35", "--photo", photo, "--by", "mo",
        "--before", "30", "--watered", "2026-10-12", "--remark", "shade", at=LATER,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    shown = swathbook("--book", year, "show", "E-000001", at=LATER)
    for part in (
        "RATING E-000001: ground ivy, 33 days after treatment",
        "looked at 2026-11-10 by Mo Lindqvist",
        "treated with Brindle 4L on 2026-10-08",
        ", treatment 1 ",
        "control 84 % (Henderson-Tilton), good to very good",
        "counts 40 before, 6 after; untreated 38 before, 35 after",
        "cover 30 % before, not rated now",
        "since watered 2026-10-12",
        "lawn.jpg: ",
        "remark shade",
        "seal sealed at",
    ):
        assert part in shown.words
    (kept,) = (year.parent / "year.db.photos").iterdir()
    assert kept.name in "".join(shown.out.split())
    kept.unlink()
    assert "a backup may hold it" in swathbook("--book", year, "show", "E-000001", at=LATER).words
    gone = swathbook("--book", year, "withdraw", "E-000001", "--reason", "wrong lawn", "--by", "mo", at=LATER)
    assert gone.code == 0, gone.err
    told = swathbook("--book", year, "show", "E-000001", at=LATER).words
    assert "** WITHDRAWN: it counts nowhere ** E-000002, Mo Lindqvist: wrong lawn" in told


def test_a_refused_look_keeps_no_photo(year: Path, swathbook: Swathbook, tmp_path: Path) -> None:
    photo = tmp_path / "lawn.jpg"
    photo.write_bytes(JPEG)
    ran = swathbook("--book", year, "rate", "union-900", "120", "--photo", photo, at=LATER)
    assert ran.code == 2, ran.err
    assert not (year.parent / "year.db.photos").exists()


def test_photos_may_lie_in_a_folder_of_ones_choice(
    year: Path, swathbook: Swathbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo = tmp_path / "lawn.jpg"
    photo.write_bytes(JPEG)
    monkeypatch.setenv("SWATHBOOK_PHOTOS", str(tmp_path / "album"))
    assert swathbook("--book", year, "rate", "union-900", "85", "--photo", photo, "--photo", photo, at=LATER).code == 0
    assert len(list((tmp_path / "album").iterdir())) == 1
    assert swathbook("--book", year, "verify", at=LATER).code == 0


def test_a_book_on_a_server_names_its_folder() -> None:
    assert read_settings("postgresql://h/b", {"SWATHBOOK_PHOTOS": "/srv/photos"}).photo_folder.name == "photos"
    with pytest.raises(UsageError, match=r"SWATHBOOK_PHOTOS=FOLDER"):
        _ = read_settings("postgresql://h/b", {}).photo_folder


@pytest.mark.parametrize("digest", ["", "*", "../../etc/passwd", "?" * 64, "A" * 64])
def test_a_hash_that_is_none_names_no_file(digest: str, tmp_path: Path) -> None:
    """What was imported may say anything."""
    folder = PhotoFolder(tmp_path / "photos")
    folder.keep(JPEG)
    (tmp_path / "passwd.jpg").write_bytes(b"x")
    assert folder.path_of(Photo("a", digest, 1)) is None
    problems, notes = folder.check([("E-000001", Photo("a", digest, 1))])
    assert (problems, len(notes)) == ([], 1)


def test_copies_are_whole_and_what_was_changed_is_left_behind(tmp_path: Path) -> None:
    here, there = PhotoFolder(tmp_path / "here"), PhotoFolder(tmp_path / "there")
    assert here.copy_to(there).new == 0
    whole, changed = here.keep(JPEG), here.keep(JPEG + b"2")
    (tmp_path / "here" / f"{changed}.jpg").write_bytes(JPEG + b"3")
    (tmp_path / "here" / "note.txt").write_text("not ours", "utf-8")
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / f"{whole}.jpg").write_bytes(JPEG[:4])  # a copy that was cut short
    assert here.copy_to(there).new == 1
    assert [path.name for path in (tmp_path / "there").iterdir()] == [f"{whole}.jpg"]
    assert (tmp_path / "there" / f"{whole}.jpg").read_bytes() == JPEG
    assert here.copy_to(there).new == 0
