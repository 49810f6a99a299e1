"""Ratings: what is sealed, by which formula control is known, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.follow_up import BY_ABBOTT, BY_COUNT, BY_EYE, BY_HENDERSON_TILTON, Counts, parse_percent
from records.domain.numerals import QuantityError
from records.errors import NotFoundError, OutputError, UsageError
from records.services.amending import Why, amend, entry_of, void
from records.services.follow_up import Done, Order, rate, ratings
from records.services.follow_up.ratings import rated_of
from records.services.follow_up.telling import control_percent, counts_words
from records.services.logbook import withdraw
from records.storage.integrity import verify

if TYPE_CHECKING:
    from tests.kit import Kit

TWO: Any = {"targets": ["plantain", "ground ivy"]}


def look(kit: Kit, of: str, *marks: str, **parts: Any) -> Done:  # noqa: ANN401 - parts of an order
    """Rate four weeks after the visit, unless told otherwise."""
    kit.set(parts.pop("now", "2026-06-11T17:00"))
    return rate(kit.book, kit.clock, Order(of=of, marks=marks, **({"by": "ruth"} | parts)))


def test_a_look_is_sealed_with_the_days_of_the_record(kit: Kit) -> None:
    serial = kit.sealed(**TWO).serial or ""
    done = look(kit, serial, "plantain=90", "ground ivy=60 %", injury="5")
    covered = look(kit, serial, "plantain=90", before="30", cover="4", now="2026-06-11T18:00").ratings[0]
    assert [covered.before, covered.cover] == [Fraction(30), Fraction(4)]
    assert [(one.target, one.control, one.days, one.way) for one in done.ratings] == [
        ("plantain", Fraction(90), 28, BY_EYE),
        ("ground ivy", Fraction(60), 28, BY_EYE),
    ]
    with kit.book.read() as work:
        first, second, _ = ratings(work, site="mill-9")
    assert first.treated is not None
    assert (first.treated.name, first.treated.groups, first.rating.rater) == ("Larkin 4", ("4",), "Ruth Sandahl")
    assert [second.rating.injury, second.rating.before, second.rating.cover] == [Fraction(5), None, None]
    assert not verify(kit.book).problems


def test_a_part_of_the_name_and_the_only_target_do(kit: Kit) -> None:
    kit.sealed()
    assert look(kit, "9 mill", "85").ratings[0].target == "plantain"
    assert look(kit, "mill-9", "PLANT=80").ratings[0].control == 80


# Worked by hand: 40 plants before and 6 after, on the untreated check 38 and 35: 1 - 6/40 x 38/35 = 586/700.
# Formulas: Abbott 1925, J. Econ. Entomol. 18: 265; Henderson and Tilton 1955, J. Econ. Entomol. 48: 157.
@pytest.mark.parametrize(
    ("count", "check", "control", "way"),
    [
        ("40:6", None, Fraction(85), BY_COUNT),
        (":6", ":30", Fraction(80), BY_ABBOTT),
        ("40:6", "38:35", Fraction(586, 7), BY_HENDERSON_TILTON),
        ("40:60", "40:40", Fraction(-50), BY_HENDERSON_TILTON),
    ],
)
def test_counts_tell_control(kit: Kit, count: str, check: str | None, control: Fraction, way: str) -> None:
    kit.sealed()
    (made,) = look(kit, "mill-9", count=count, check=check).ratings
    assert made.control is not None
    assert (abs(made.control - control) < Fraction(1, 10**6), made.way) == (True, way)


@pytest.mark.parametrize(
    ("marks", "parts", "told"),
    [
        (("plantain=120",), {}, "a rating goes from 0"),
        (("plantain=80 lb",), {}, "is no per cent"),
        (("plantain=-5",), {}, "negative"),
        (("dandelion=80",), {}, "was not against 'dandelion'"),
        (("80",), TWO, "say which target: plantain, ground ivy"),
        (("plantain=",), {}, "has no per cent"),
        (("plantain=80",), {"count": "40"}, "has no colon"),
        (("plantain=",), {"count": ":6"}, "a count after alone tells nothing"),
        (("plantain=",), {"count": "0:6"}, "nothing was counted before"),
        (
            ("plantain",),
            {"count": "40:6", "check": "40:0"},
            "nothing lives on the untreated check any more, so control",
        ),
        (("plantain",), {"count": ":6", "check": ":0"}, "nothing lives on the untreated check any more, so control"),
        (("plantain",), {"count": "40:6", "check": "0:4"}, "nothing was counted on the untreated check before"),
        (("plantain",), {"count": "0:6", "check": "3:4"}, "nothing was counted before the treatment"),
        (("plantain",), {"count": ":6"}, r"count before the treatment too, or untreated ground \(--check :30\)"),
        (("plantain",), {}, "'plantain' has no per cent; write plantain=80"),
        (("dandelion",), {"count": "40:6"}, "was not against 'dandelion'"),
        (("plantain=80",), {"check": "4:5"}, "--check without --count"),
        (("plantain=80",), {"treatment": 3}, "the visit has no such treatment"),
        (("plantain=80",), {"at": "2026-05-13"}, "lies before the treatment"),
        (("plantain=80",), {"at": "2026-07-01"}, "in the future"),
        (("plantain=80",), {"rain": "4 lb"}, "--rain"),
        (("plantain=80",), {"mowed": "31"}, "--mowed"),
        (("plantain=80",), {"mowed": "2026-06"}, "'2026-06' is no day"),
        (("plantain=80",), {"mowed": "2026-05-13"}, "does not lie between the treatment of 2026-05-14 and the look"),
        (("plantain=80",), {"watered": "2026-06-12"}, "does not lie between"),
        (("plantain=7/9",), {}, "is on another scale"),
        (("plantain=80", "plantain=70"), {"before": "30", "count": "40:6"}, "--before, --count: of which weed"),
        (("plantain=80",), {"injury": "lots"}, "--injury"),
    ],
)
def test_what_cannot_be_read_is_refused_and_nothing_sealed(
    kit: Kit, marks: tuple[str, ...], parts: dict[str, Any], told: str
) -> None:
    kit.sealed(**(TWO if parts is TWO else {}))
    with pytest.raises(UsageError, match=told):
        look(kit, "mill-9", *marks, **({} if parts is TWO else parts))
    with kit.book.read() as work:
        assert not ratings(work)


def test_all_problems_at_once(kit: Kit) -> None:
    kit.sealed()
    with pytest.raises(UsageError) as caught:
        look(kit, "mill-9", "plantain=120", injury="x", rain="4 lb")
    assert all(part in str(caught.value) for part in ("a rating goes", "--injury", "--rain"))


def test_nowhere_and_nobody(kit: Kit) -> None:
    with pytest.raises(NotFoundError, match="no weed was treated at mill-9"):
        look(kit, "mill-9", "80")
    kit.sealed()
    with pytest.raises(NotFoundError, match="no person"):
        look(kit, "mill-9", "80", by="rutt")
    with pytest.raises(NotFoundError, match="no record"):
        look(kit, "2026-77", "80")


def test_withdrawn_and_voided_count_nowhere(kit: Kit) -> None:
    first, second = kit.sealed().serial or "", kit.sealed("2026-05-20", confirmed=["same-day", "too-soon"]).serial or ""
    wrong = look(kit, first, "80").ratings[0]
    look(kit, second, "70")
    withdraw(kit.book, kit.clock, wrong.serial, "wrong lawn")
    void(kit.book, second, Why("wrong address", "ruth"), kit.clock)
    with kit.book.read() as work:
        assert not ratings(work)
    assert not verify(kit.book).problems


def test_the_days_follow_an_amended_record(kit: Kit) -> None:
    """The visit was on the 12th, not the 14th: its ratings are two days older than they seemed."""
    done = kit.sealed()
    look(kit, done.serial or "", "80")
    assert done.body is not None
    document = done.body["document"] | {"started": "2026-05-12T09:10", "finished": "2026-05-12T09:32"}
    document["weather"] = document["weather"] | {"measured_at": "2026-05-12T09:05"}
    amend(kit.book, done.serial or "", document, Why("wrong day", "ruth"), kit.clock)
    with kit.book.read() as work:
        assert [one.rating.days for one in ratings(work)] == [30]


def test_a_target_that_was_taken_away_is_stray(kit: Kit) -> None:
    """Where the record names it again, whatever its case, it counts again."""
    done = kit.sealed(**TWO)
    serial = done.serial or ""
    look(kit, serial, "plantain=80", "ground ivy=70")
    for targets, counted in ((["PLANTAIN"], ["plantain"]), (["Ground Ivy", "Plantain"], ["plantain", "ground ivy"])):
        document = entry_of(kit.book, serial)
        document["treatments"][0]["targets"] = targets
        assert amend(kit.book, serial, document, Why("wrong weed", "ruth"), kit.clock).serial
        with kit.book.read() as work:
            assert [one.rating.target for one in ratings(work)] == counted
            every = ratings(work, strays=True)
        assert [one.rating.target for one in every if not one.is_stray] == counted
        assert len(every) == 2


def test_without_targets_nothing_is_stray_and_without_its_treatment_all_is(kit: Kit) -> None:
    look(kit, kit.sealed().serial or "", "80")
    with kit.book.read() as work:
        (one,) = ratings(work)
    assert one.treated is not None
    assert not replace(one, treated=replace(one.treated, targets=())).is_stray
    assert replace(one, treated=replace(one.treated, targets=("clover",))).is_stray
    assert not replace(
        one, treated=replace(one.treated, targets=("clover",)), rating=replace(one.rating, trial="t-1")
    ).is_stray
    assert replace(one, treated=None).is_stray
    assert not replace(one, treated=None, is_gone=True).is_stray


@pytest.mark.parametrize(("now", "is_late"), [("2026-07-09T17:00", False), ("2026-07-10T17:00", True)])
def test_what_is_rated_long_after_is_told_and_marked(now: str, is_late: bool, kit: Kit) -> None:  # noqa: FBT001
    """Group 4 is looked at last on day 28; until 28 days later a rating tells what the treatment did."""
    done = look(kit, kit.sealed().serial or "", "80", now=now)
    assert any("too late to tell what the treatment did" in note for note in done.notes) is is_late
    with kit.book.read() as work:
        (one,) = ratings(work)
    assert (one.is_late, one.rating.days) == (is_late, 57 if is_late else 56)
    assert not replace(one, rating=replace(one.rating, trial="t-1")).is_late


def test_what_is_worth_saying(kit: Kit) -> None:
    serial = kit.sealed(**TWO).serial or ""
    early = look(kit, serial, "plantain=10", now="2026-05-16T17:00")
    assert "too early to judge group 4 (synthetic auxin)" in early.notes[0]
    assert "University of Nebraska" in early.notes[0]
    assert "To judge: death may take weeks" in early.notes[0]
    assert "7, 14, 28 days after" in early.notes[0]
    assert look(kit, serial, "plantain=90", now="2026-05-28T17:00").notes == ()
    later = look(kit, serial, "plantain=60", injury="40", by="emil").notes
    assert any("30 %" in note for note in later)
    assert any("another person" in note for note in later)
    assert any("fell from 90 %" in note for note in later)
    assert any("rated on 2026-06-11 before" in note for note in look(kit, serial, "plantain=60", by="emil").notes)


def test_a_target_alone_is_enough_where_plants_were_counted(kit: Kit) -> None:
    kit.sealed(**TWO)
    (made,) = look(kit, "mill-9", "ivy", count="40:6", check="38:35").ratings
    assert (made.target, made.way) == ("ground ivy", BY_HENDERSON_TILTON)


def test_counts_without_a_check_are_noted(kit: Kit) -> None:
    serial = kit.sealed().serial or ""
    assert look(kit, serial, count="40:6").notes == (
        "no untreated ground was counted (--check): what died by itself is counted as killed",
    )
    assert look(kit, serial, count="40:6", check="38:35", at="2026-06-10").notes == ()


def test_a_cover_that_grew_beside_control_is_noted(kit: Kit) -> None:
    serial = kit.sealed().serial or ""
    (note,) = look(kit, serial, "plantain=50", before="10", cover="20").notes
    assert note == "cover of plantain grew from 10 % to 20 %, yet its control is 50 %; look at both again"
    assert look(kit, serial, "plantain=50", before="20", cover="10", at="2026-06-10").notes == ()


def test_a_rating_by_nobody_says_so_and_is_no_other_person(kit: Kit) -> None:
    serial = kit.sealed().serial or ""
    nobody = look(kit, serial, "80", by=None, at="2026-06-09")
    assert nobody.notes == ("nobody is named as rater: --by PERSON",)
    assert look(kit, serial, "80", at="2026-06-10").notes == ()
    assert look(kit, serial, "80", by=None).notes == nobody.notes
    assert any("another person" in note for note in look(kit, serial, "80", by="emil", at="2026-06-10").notes)


def test_who_counted_makes_no_difference(kit: Kit) -> None:
    serial = kit.sealed().serial or ""
    look(kit, serial, count="40:6", check="38:35", at="2026-06-09")
    (note,) = look(kit, serial, count="40:20", check="38:35", by="emil").notes
    assert note == "control of plantain fell from 84 %: regrowth"
    note = look(kit, serial, "50", by="emil").notes[-1]
    assert note.endswith("regrowth, or that one was counted and the other judged by eye")


@pytest.mark.parametrize(
    ("text", "value"), [("80", 80), ("80 %", 80), ("0", 0), ("100%", 100), ("12.5", Fraction(25, 2))]
)
def test_per_cents_as_people_write_them(text: str, value: Fraction) -> None:
    assert parse_percent(text, "control") == value


@pytest.mark.parametrize("text", ["", "100.1", "-1", "eighty", "80 mm", "8/0", "NaN", "1e2"])
def test_per_cents_that_are_none(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_percent(text, "control")


def test_counts_without_anything_to_compare_with() -> None:
    with pytest.raises(ValueError, match="tells nothing"):
        Counts(None, Fraction(3)).control()


def test_a_site_stands_for_its_newest_visit_against_that_weed(kit: Kit) -> None:
    first = kit.sealed(targets=["plantain", "ground ivy"]).serial
    second = kit.sealed("2026-06-01", targets=["plantain"]).serial
    assert look(kit, "mill-9", "plantain=80").ratings[0].record == second
    assert look(kit, "mill-9", "ivy=60").ratings[0].record == first
    assert {one.record for one in look(kit, "mill-9", "ivy=60", "plantain=70", by="emil").ratings} == {first}
    with pytest.raises(UsageError, match="was not against 'dandelion'; it was against plantain"):
        look(kit, "mill-9", "dandelion=80")


def test_photos_are_kept_when_all_else_is_right_and_before_anything_is_sealed(kit: Kit) -> None:
    serial = kit.sealed().serial or ""
    kit.set("2026-06-11T17:00")
    kept: list[str] = []
    with pytest.raises(UsageError):
        rate(kit.book, kit.clock, Order(serial, ("120",)), lambda: kept.append("too early"))
    assert not kept

    def full() -> None:
        raise OutputError("the photo cannot be kept", "Make room there")

    with pytest.raises(OutputError):
        rate(kit.book, kit.clock, Order(serial, ("80",)), full)
    with kit.book.read() as work:
        assert not ratings(work)


def test_a_day_alone_is_its_noon_or_the_present_moment(kit: Kit) -> None:
    serial = kit.sealed().serial or ""
    for now, on, at in (
        ("2026-06-11T17:00", "2026-06-10", "2026-06-10T12:00-05:00"),
        ("2026-06-11T08:15", "2026-06-11", "2026-06-11T08:15-05:00"),
        ("2026-06-11T17:00", "2026-06-11", "2026-06-11T12:00-05:00"),
        ("2026-06-11T17:00", "2026-06-11T07:30", "2026-06-11T07:30-05:00"),
    ):
        event = look(kit, serial, "80", now=now, at=on).ratings[0].serial
        with kit.book.read() as work:
            assert work.records.revisions(event)[-1].body["data"]["at"] == at


def test_one_rating_is_found_with_what_became_of_it(kit: Kit) -> None:
    wrong = look(kit, kit.sealed().serial or "", "80").ratings[0].serial
    withdraw(kit.book, kit.clock, wrong, "wrong lawn", by="ruth")
    with kit.book.read() as work:
        one, gone = rated_of(work, wrong)
        assert (one.rating.control, one.treated is not None) == (Fraction(80), True)
        assert gone == "E-000002, Ruth Sandahl: wrong lawn"
        with pytest.raises(NotFoundError, match="no rating E-000077"):
            rated_of(work, "E-000077")


@pytest.mark.parametrize(
    ("control", "shown"),
    [
        ("80", "80 %"),
        ("79.6", "79 %"),
        ("79.4", "79 %"),
        ("90.9", "90 %"),
        ("91", "91 %"),
        ("87.8125", "88 %"),
        ("59.7", "59 %"),
        ("-12.6", "-13 %"),
        ("0", "0 %"),
    ],
)
def test_control_is_never_rounded_into_a_better_class(control: str, shown: str) -> None:
    assert control_percent(Fraction(control)) == shown


def test_counts_in_words() -> None:
    four = Counts(Fraction(40), Fraction(6), Fraction(38), Fraction("35.5"))
    assert counts_words(four) == "40 before, 6 after; untreated 38 before, 35.5 after"
    assert counts_words(Counts(None, Fraction(6), None, Fraction(30))) == "6 after; untreated 30 after"
    assert counts_words(None) == ""


@given(
    before=st.integers(1, 500),
    after=st.integers(0, 500),
    check=st.integers(1, 500),
    check_after=st.integers(1, 500),
)
def test_counts_agree_where_the_check_does_not_change(before: int, after: int, check: int, check_after: int) -> None:
    """Without a change on untreated ground the correction changes nothing; where more grew there, more was killed."""
    plain, _ = Counts(Fraction(before), Fraction(after)).control()
    same, _ = Counts(Fraction(before), Fraction(after), Fraction(check), Fraction(check)).control()
    assert plain == same <= 100
    corrected, way = Counts(Fraction(before), Fraction(after), Fraction(check), Fraction(check_after)).control()
    assert way == BY_HENDERSON_TILTON
    assert (corrected >= plain) == (check_after >= check or after == 0)
