"""The failure stories that the trade tells."""

from __future__ import annotations

STORIES = (
    "dry product measured in a fluid cup",
    "area typed in acres, read as sq ft",
    "decimal slip, 10x amount",
    "water and product entered as product",
    "rate typed where quantity belongs",
    "EPA number one digit off",
    "per-gallon mix used as broadcast rate",
    "spot area unknown",
    "one mix over 12 yards, no gallons each",
    "leftover mix put on a species not listed",
    "new jug, newer label revision",
    "two products, one active: yearly cap broken",
    "two technicians at one property the same day",
    "wrong address",
    "landscapers fell ill, the phone on the sign could not tell the product",
    "drift complaint, weather blank",
    "wind written to NW and from NW",
    "weather copied all day from 7 am",
    "record written days later from memory",
    "sign pulled too early, or the customer says there was none",
    "registered neighbour not called, or job postponed",
    "licence lapsed mid-season",
    "state report under a wrong number, date range or unit",
    "heat line, 89 F in the morning, 96 F in the afternoon",
    "judged after 3 days, re-sprayed too soon",
    "copied record reused yesterday's applicator",
)
