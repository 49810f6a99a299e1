"""An invented year for tests of the annual summary."""

from __future__ import annotations

from records.services.ports import ActiveRow, FlaggedRecord, SummaryRows, TargetRow, UseRow

NANO = 10**9


def use(**changes: object) -> UseRow:
    """Return a row of one product in one month, with parts replaced."""
    row = UseRow(
        product_id="brindle-4l",
        product_version=1,
        product_name="Brindle 4L",
        registration="99999-41",
        product_kind="pesticide",
        form="liquid",
        restricted_use=False,
        site_kind="turf",
        county="Carver",
        zip="55290",
        applicator_id="mo",
        applicator_name="Mo Tarn",
        period="2026-05",
        amount_unit="fl oz",
        deviation=False,
        applications=3,
        amount_nano=13_860_000_000,
        area_nano=12_600 * NANO,
        no_amount=0,
        no_area=0,
    )
    return row._replace(**changes)  # type: ignore[arg-type]  # the test names the right types


SEDGE = {
    "product_id": "sedgeline-75",
    "product_name": "Sedgeline 75 WG",
    "registration": "99999-63",
    "form": "dry",
    "amount_unit": "g",
}
SPREAD = {"product_id": "spreadwell", "product_name": "Spreadwell", "registration": None, "product_kind": "adjuvant"}
OUNCES = {
    "product_id": None,
    "product_name": "Tarnel",
    "registration": "99999-77",
    "form": "unknown",
    "amount_unit": "oz",
    "applicator_id": None,
    "applicator_name": None,
    "county": None,
    "zip": None,
    "site_kind": None,
}


def year_rows() -> SummaryRows:
    """Return a small year with every kind of amount in it."""
    uses = [
        use(),
        use(
            period="2026-06",
            amount_unit="pt",
            applications=2,
            amount_nano=1_500_000_000,
            applicator_id="ada",
            applicator_name="Ada Brook",
        ),
        use(
            period="2026-06",
            deviation=True,
            county="Scott",
            zip="55299",
            applications=1,
            amount_nano=6 * NANO,
            area_nano=4200 * NANO,
        ),
        use(**SEDGE, applications=1, amount_nano=360_000_000, area_nano=300 * NANO),
        use(
            **SEDGE,
            period="2026-08",
            applications=4,
            amount_nano=2 * NANO,
            area_nano=900 * NANO,
            site_kind="ornamental bed",
        ),
        use(**SPREAD, amount_nano=2_688_000_000, applications=1, area_nano=4200 * NANO),
        use(
            **OUNCES, period="2026-09", applications=2, amount_nano=12_500_000_000, area_nano=0, no_area=2, no_amount=1
        ),
    ]
    targets = [
        TargetRow("ground ivy", 6, 29_400 * NANO, 0),
        TargetRow("yellow nutsedge", 5, 1200 * NANO, 0),
        TargetRow("dandelion", 2, 0, 2),
    ]
    actives = [
        ActiveRow("brindle-4l", "Brindle 4L", "99999-41", "brindlac acid", "ae", 1_370_625_000, 0),
        ActiveRow("sedgeline-75", "Sedgeline 75 WG", "99999-63", "carvesulfuron", "ai", 3_902_181, 0),
        ActiveRow(None, "Tarnel", "99999-77", "tarnelin", "ai", 0, 2),
    ]
    flagged = [
        FlaggedRecord("2026-000003", deviation=True, incomplete=False, late_days=0),
        FlaggedRecord("2026-000007", deviation=False, incomplete=True, late_days=0),
        FlaggedRecord("2026-000008", deviation=False, incomplete=True, late_days=2),
        FlaggedRecord("2026-000009", deviation=False, incomplete=True, late_days=0),
    ]
    return SummaryRows(uses, targets, actives, flagged, records=11, voided=1, head="5e" * 32)
