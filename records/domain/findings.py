"""What can be wrong or worth saying about an entry: stable codes, three severities, all told at once."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding weighs."""

    STOP = "stop"  # not sealed, unless as applied with a signature where the code allows it
    ASK = "ask"  # not sealed until the entry lists the code under `confirmed`
    NOTE = "note"  # sealed, and said


class Code(StrEnum):
    """Finding codes: the contract of every screen, report and test. Codes are never renamed or reused."""

    MISSING = "missing"
    NOT_UNDERSTOOD = "not-understood"
    UNKNOWN_KEY = "unknown-key"
    UNKNOWN_NAME = "unknown-name"
    UNIT_KIND = "unit-kind"
    DISAGREE = "disagree"
    OVER_RATE = "over-rate"
    OVER_YEAR = "over-year"
    OVER_ACTIVE = "over-active"
    OVER_COUNT = "over-count"
    TOO_SOON = "too-soon"
    SITE_NOT_LISTED = "site-not-listed"
    TURF_NOT_LISTED = "turf-not-listed"
    TURF_SENSITIVE = "turf-sensitive"
    METHOD_NOT_ALLOWED = "method-not-allowed"
    OVER_WIND = "over-wind"
    OVER_TEMPERATURE = "over-temperature"
    LICENCE_MISSING = "licence-missing"
    LICENCE_LAPSED = "licence-lapsed"
    LICENCE_CATEGORY = "licence-category"
    SUPERVISION = "supervision"
    REGISTRATION_FORMAT = "registration-format"
    PRODUCT_UNKNOWN = "product-unknown"
    AREA_OVER_ZONE = "area-over-zone"
    UNLIKELY_AMOUNT = "unlikely-amount"
    WEATHER_AGED = "weather-aged"
    SAME_DAY = "same-day"
    FUTURE_DATE = "future-date"
    CLOCK_ORDER = "clock-order"
    BELOW_RATE = "below-rate"
    TARGET_NOT_LISTED = "target-not-listed"
    GROUP_REPEAT = "group-repeat"
    LATE = "late"
    NOT_CHECKABLE = "not-checkable"
    NOT_NOTIFIED = "not-notified"
    PARTNER_NOT_ALLOWED = "partner-not-allowed"
    ADJUVANT_MISSING = "adjuvant-missing"
    OVER_NUTRIENT = "over-nutrient"
    BLACKOUT = "blackout"
    SETBACK = "setback"
    CALIBRATION_STALE = "calibration-stale"
    STATION_WEATHER = "station-weather"
    DRIFT_WEATHER = "drift-weather"
    WITHIN_READING = "within-reading"
    LOT_EXPIRED = "lot-expired"


# What broke a limit can be sealed as it really happened. What is unreadable, contradictory or absent cannot be sealed
# at all: there would be nothing to put on the record.
WAIVABLE = frozenset(
    {
        Code.OVER_RATE,
        Code.OVER_YEAR,
        Code.OVER_ACTIVE,
        Code.OVER_COUNT,
        Code.TOO_SOON,
        Code.SITE_NOT_LISTED,
        Code.TURF_NOT_LISTED,
        Code.TURF_SENSITIVE,
        Code.METHOD_NOT_ALLOWED,
        Code.OVER_WIND,
        Code.OVER_TEMPERATURE,
        Code.LICENCE_MISSING,
        Code.LICENCE_LAPSED,
        Code.LICENCE_CATEGORY,
        Code.SUPERVISION,
        Code.BELOW_RATE,
        Code.TARGET_NOT_LISTED,
        Code.PARTNER_NOT_ALLOWED,
        Code.ADJUVANT_MISSING,
        Code.OVER_NUTRIENT,
        Code.BLACKOUT,
        Code.SETBACK,
    }
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong or worth saying: what, where in the entry, the limit, the value found, the source."""

    code: Code
    severity: Severity
    at: str
    message: str
    limit: str = ""
    found: str = ""
    source: str = ""

    def document(self) -> dict[str, str]:
        """Return the finding as plain text fields, in the order they are shown."""
        return {
            "code": self.code.value,
            "severity": self.severity.value,
            "at": self.at,
            "message": self.message,
            "limit": self.limit,
            "found": self.found,
            "source": self.source,
        }


def blocking(findings: list[Finding], confirmed: frozenset[str], *, as_applied: bool = False) -> list[Finding]:
    """Return the findings that keep an entry from being sealed.

    Args:
        findings: all of them.
        confirmed: codes that the entry says were looked at.
        as_applied: whether it is sealed as it really happened; the reason and signature then answer every question too.
    """
    return [
        finding
        for finding in findings
        if (finding.severity is Severity.STOP and not (as_applied and finding.code in WAIVABLE))
        or (finding.severity is Severity.ASK and finding.code not in confirmed and not as_applied)
    ]
