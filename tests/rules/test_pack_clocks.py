"""How long each rule gives to finish a record and how long it has to be kept, beside the rule that says so.

The pages that were read are named in `matrix.csv`. M: from memory, so it is told but binds nobody; V2: secondary copy.
"""

from __future__ import annotations

import pytest

from records.rules.pack import Clock, Status
from records.rules.packs import newest, pack_ids

STATUSES = {"V": Status.VERIFIED, "V2": Status.SECONDARY, "M": Status.MEMORY}

# pack -> within, how well known
COMPLETE = {
    "common": ("the same day", "V"),  # ATCP 29.21, the shortest of all
    "us-7cfr110": ("14 days", "V2"),  # 7 CFR 110.3
    "us-fl-487": ("2 working days", "V"),  # 5E-9.032
    "us-me": ("the same day", "V"),  # 01-026 C.M.R. ch. 50, s. 1
    "us-mn": ("5 days", "V"),  # Minn. Stat. 18B.37 subd. 2
    "us-nc": ("72 hours", "V"),  # 02 NCAC 09L .1402
    "us-nj": ("24 hours", "M"),  # N.J.A.C. 7:30-7.3; read for private applicators only
    "us-oh": ("the same day", "V"),  # OAC 901:5-11-10(A)(2)
    "us-pa": ("24 hours", "V2"),  # 7 Pa. Code 128.35(d)
    "us-tx-ag": ("14 days", "M"),  # 4 TAC 7.33
    "us-wa": ("the same day", "V2"),  # WSDA form AGR 4226
    "us-wi": ("the same day", "V"),  # ATCP 29.21
}
HAND_OVER = {
    "us-az": ("5 working days", "V"),  # A.A.C. R3-8-501(A)
    "us-oh": ("10 days", "V2"),  # OAC 901:5-11-10
}
# pack -> (products, years, how well known); no entry: the text read does not say
RETENTION = {
    "us-md-fertilizer": [("all", 3, "V")],
    "us-va-fertilizer": [("all", 3, "V")],
    "common": [("all", 7, "V")],  # RCW 17.21.100, the longest of all
    "us-40cfr171": [("all", 2, "V2")],  # 40 CFR 171.303(b)(7)(vi)
    "us-7cfr110": [("all", 2, "V2")],  # 7 CFR 110.3
    "us-ca": [("all", 2, "M")],  # 3 CCR 6624
    "us-co": [("all", 3, "M")],  # 8 CCR 1203-2, part 6
    "us-ct": [("all", 5, "V")],  # Conn. Gen. Stat. 22a-66g
    "us-fl-482": [("all", 2, "V")],  # 5E-14.142
    "us-fl-487": [("all", 2, "V")],  # 5E-9.032
    "us-ga": [("all", 2, "V")],  # 40-21-5
    "us-ia": [("all", 3, "V")],  # Iowa Code 206.15
    "us-in": [("all", 2, "V")],  # IC 15-16-5-59
    "us-ky": [("all", 3, "V")],  # 302 KAR 26:030
    "us-ma": [("all", 3, "V")],  # 333 CMR 10.14(2)
    "us-md": [("all", 2, "V2")],  # COMAR 15.05.01
    "us-me": [("all", 2, "V")],  # 01-026 C.M.R. ch. 50, s. 1
    "us-mi": [("restricted", 3, "V"), ("other", 1, "V")],  # R 285.636.15
    "us-mn": [("all", 5, "M")],  # Minn. Stat. 18B.37
    "us-nc": [("all", 3, "V")],  # 02 NCAC 09L .1402
    "us-nj": [("all", 3, "V2")],  # N.J.A.C. 7:30
    "us-ny": [("all", 3, "V")],  # ECL 33-1205
    "us-oh": [("all", 3, "V2")],  # OAC 901:5-11-10
    "us-or": [("all", 3, "V")],  # ORS 634.146
    "us-pa": [("all", 3, "V2")],  # 7 Pa. Code 128.35
    "us-tn": [("all", 2, "V")],  # 0080-09-04-.06(5)
    "us-tx-ag": [("all", 2, "V")],  # 4 TAC 7.33
    "us-tx-structural": [("all", 2, "V")],  # 4 TAC 7.144
    "us-va": [("all", 2, "V")],  # 2VAC5-680-50
    "us-wa": [("all", 7, "V")],  # RCW 17.21.100
    "us-wi": [("all", 2, "V"), ("active:atrazine", 3, "V")],  # ATCP 29.21
}
# Where the text says from when: of application; of making or amendment, whichever is later.
FROM_APPLICATION = {"us-ia", "us-ma", "us-me", "us-mi", "us-oh", "us-or", "us-tn"}
FROM_AMENDMENT = {"us-ct"}


def _is(clock: Clock | None, expected: tuple[str, str] | None) -> bool:
    if clock is None or expected is None:
        return clock is None and expected is None
    return (str(clock.within), clock.source.status) == (expected[0], STATUSES[expected[1]])


@pytest.mark.parametrize("key", pack_ids())
def test_complete_by(key: str) -> None:
    """The time to finish a record, and the time to hand it to the firm; none where no text was seen."""
    assert _is(newest(key).complete, COMPLETE.get(key)), newest(key).complete
    assert _is(newest(key).hand_over, HAND_OVER.get(key)), newest(key).hand_over


@pytest.mark.parametrize("key", pack_ids())
def test_kept(key: str) -> None:
    """Years by class of product."""
    expected = [(products, years, STATUSES[status]) for products, years, status in RETENTION.get(key, [])]
    assert [(kept.products, kept.years, kept.source.status) for kept in newest(key).retention] == expected


@pytest.mark.parametrize("key", sorted(FROM_APPLICATION | FROM_AMENDMENT))
def test_kept_from(key: str) -> None:
    """What starts the years, where the text says so."""
    starts = "amendment" if key in FROM_AMENDMENT else "application"
    assert {kept.starts for kept in newest(key).retention} == {starts}
