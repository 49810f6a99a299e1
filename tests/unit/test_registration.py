"""Registration numbers as published, and what stands in their place by mistake."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.domain.registration import Registration, RegistrationError, RegistrationKind, read_registration

FEDERAL, DISTRIBUTOR = RegistrationKind.FEDERAL, RegistrationKind.DISTRIBUTOR
SUFFIXED, LOCAL = RegistrationKind.STATE_SUFFIXED, RegistrationKind.SPECIAL_LOCAL_NEED

# Form of the federal number: 40 CFR 156.10(e) and EPA Label Review Manual, chapter 14 (company, hyphen, product; the
# words "EPA Reg. No." or "EPA Registration No." before it). Third group: 40 CFR 152.132, distributor products.
# The numbers are invented.
FORMS = [
    ("99999-41", "99999-41", FEDERAL),
    ("EPA Reg. No. 99999-41", "99999-41", FEDERAL),
    ("EPA Reg No 99999-41", "99999-41", FEDERAL),
    ("EPA Registration No. 99999-41", "99999-41", FEDERAL),
    ("epa reg. no.: 099999-0041", "99999-41", FEDERAL),
    (" 99999 - 41 ", "99999-41", FEDERAL),
    ("99999\N{EN DASH}41", "99999-41", FEDERAL),
    ("99999-41-88888", "99999-41-88888", DISTRIBUTOR),
    ("EPA Reg. No. 99999-041-088888", "99999-41-88888", DISTRIBUTOR),
    # Special local need, state and two digits of the year and a serial: common practice.
    ("MN-210003", "MN-210003", LOCAL),
    ("SLN MN210003", "MN-210003", LOCAL),
    ("MN 210003", "MN-210003", LOCAL),
    ("EPA SLN No. MN-210003", "MN-210003", LOCAL),
]

# Rows of a county release under the California Public Records Act, 2021-2024 (registration number as typed there, and
# the federal number derived from it: firm-label, or firm-label-distributor; none from label number 50000 on).
COUNTY = [
    ("100-1014-ZB", "100-1014"),
    ("100-1066-AA", "100-1066"),
    ("241-296-AA-228", "241-296-228"),
    ("62719-556-AA", "62719-556"),
    ("34704-50029-AA", ""),
    ("1051181-50007-AA", ""),
]

# Rows of the product table of 2000 of the California Department of Pesticide Regulation, column show_regno: every part
# right-aligned, blanks inside.
PADDED = [
    ("    239-50030-AA", "239-50030-AA", ""),
    ("    241-  208-ZA", "241-208-ZA", "241-208"),
    ("    527-   89-AA", "527-89-AA", "527-89"),
    ("    527-   95-AA", "527-95-AA", "527-95"),
    ("  11715-   43-AA-    527", "11715-43-AA-527", "11715-43-527"),
]

REFUSED = [
    ("99999-MN-1", "establishment"),
    ("99999-MN-001", "establishment"),
    ("99999-CHN-2", "establishment"),
    ("EPA Est. 99999-MN-1", "establishment"),
    ("EPA Establishment No. 99999-MN-1", "establishment"),
    # The letters of REGULATION stand for digits before registration: EPA Label Review Manual, chapter 14, whose own
    # example is 6767-EGN.
    ("6767-EGN", "file symbol"),
    ("99999-RE", "file symbol"),
    ("99999-GUL", "file symbol"),
    ("EPA Reg. No. 99999-RE", "file symbol"),
    ("99999-EUP-12", "experimental use permit"),
    ("99999-XYZ", "letters"),
    ("none", "exemption"),
    ("exempt", "exemption"),
    ("N/A", "exemption"),
    ("25(b)", "exemption"),
    ("FIFRA 25(b)", "exemption"),
    ("ZZ-210003", "no state"),
    ("", "empty"),
    ("   ", "empty"),
    ("99999", "not a registration number"),
    ("99999-41-88888-7", "not a registration number"),
    ("99999-41, 99999-42", "not a registration number"),
    ("0-41", "company number"),
    ("99999-0", "product number"),
    ("9999999999-41", "company number"),
    ("9" * 5_000, "characters long"),
    ("99999-41\x1b[31m", "not a registration number"),
    ("٩٩٩٩٩-٤١", "not a registration number"),
]


@pytest.mark.parametrize(("text", "normalised", "kind"), FORMS, ids=[text for text, _, _ in FORMS])
def test_written_forms_are_read(text: str, normalised: str, kind: RegistrationKind) -> None:
    federal = "" if kind is LOCAL else normalised
    assert read_registration(text) == Registration(normalised, kind, federal)


@pytest.mark.parametrize(("text", "federal"), COUNTY, ids=[text for text, _ in COUNTY])
def test_numbers_of_a_county_release_are_read(text: str, federal: str) -> None:
    assert read_registration(text) == Registration(text, SUFFIXED, federal)


@pytest.mark.parametrize(("text", "normalised", "federal"), PADDED, ids=[text.strip() for text, _, _ in PADDED])
def test_padded_numbers_of_a_state_table_are_read(text: str, normalised: str, federal: str) -> None:
    assert read_registration(text) == Registration(normalised, SUFFIXED, federal)


@pytest.mark.parametrize(("text", "word"), REFUSED, ids=[f"{n}-{word}" for n, (_, word) in enumerate(REFUSED)])
def test_other_texts_are_refused_with_a_hint(text: str, word: str) -> None:
    with pytest.raises(RegistrationError, match=word) as caught:
        read_registration(text)
    message = str(caught.value)
    assert message.isprintable()
    assert len(message) < 250


@pytest.mark.parametrize("value", [None, 99999, [], {}], ids=["null", "number", "list", "table"])
def test_only_text_is_a_number(value: object) -> None:
    with pytest.raises(RegistrationError, match="is text"):
        read_registration(value)


@given(st.text(max_size=70))
def test_any_text_is_read_or_refused_in_one_line(text: str) -> None:
    try:
        found = read_registration(text)
    except RegistrationError as error:
        message = str(error)
    else:
        message = "read"
        assert read_registration(found.text) == found
    assert message.isprintable()


@given(
    st.integers(1, 9_999_999),
    st.integers(1, 99_999),
    st.none() | st.integers(1, 9_999_999),
    st.none() | st.sampled_from(["AA", "ZA", "ZB"]),
)
def test_what_is_normalised_stays_so(company: int, product: int, distributor: int | None, letters: str | None) -> None:
    text = "-".join(str(part) for part in (company, product, letters, distributor) if part is not None)
    assert read_registration(text).text == text
