"""What the finding codes mean, in plain words, and the parts of an entry that no rule has a field for."""

from __future__ import annotations

from typing import NamedTuple

from records.domain.findings import Code, Severity


class CodeWords(NamedTuple):
    """One code: what it means, what to do, and where that stands."""

    means: str
    do: str
    source: str = ""


LABEL = "the product's label, which federal law makes the limit: FIFRA section 12(a)(2)(G) (from memory, not checked)"
FERTILIZER = "the fertilizer law of the site's state: swathbook pack show us-STATE-fertilizer"
TOOL = "the tool's own care"
PACKS = "the rules of the site's state and day: swathbook why FIELD names them"
LICENCE = "40 CFR 171 for restricted-use products, the state's own rule for the rest; swathbook why applicator_licence"
ALLOWED = "FIFRA section 2(ee) (secondary); the product's label where it forbids it"
_CORRECT = "correct the place it names"
_LOOK = "look again; where it is right as typed, list the code under confirmed"
_SIGN = "correct it; or, if it really happened so, seal it --as-applied with a reason and a certified signer"
_ALLOWED = f"nothing where it is noted; where the label forbids it: {_SIGN}"

CODES: dict[Code, CodeWords] = {
    Code.MISSING: CodeWords(
        "a rule asks for something that the entry does not have", "write it where the finding says", PACKS
    ),
    Code.NOT_UNDERSTOOD: CodeWords("a part of the entry cannot be read", _CORRECT, TOOL),
    Code.UNKNOWN_KEY: CodeWords("the entry has a name that no visit has", "correct the name, or take it out", TOOL),
    Code.UNKNOWN_NAME: CodeWords(
        "the book has no such site, person, zone, mix or equipment", "load it, or correct the id", TOOL
    ),
    Code.UNIT_KIND: CodeWords(
        "a weight stands where the product is a liquid, or a volume where it is dry", _CORRECT, TOOL
    ),
    Code.DISAGREE: CodeWords(
        "two things contradict each other, such as rate, area and amount, calm air and a wind speed, or what the stops "
        "of one load took and what it made",
        "correct the one that is wrong",
        TOOL,
    ),
    Code.OVER_RATE: CodeWords("more than the label allows for one application, on every basis it prints", _SIGN, LABEL),
    Code.OVER_YEAR: CodeWords("more of the product in the label's year or season than it allows", _SIGN, LABEL),
    Code.OVER_ACTIVE: CodeWords(
        "more of an active ingredient in the label's year than it allows, all products together", _SIGN, LABEL
    ),
    Code.WITHIN_READING: CodeWords(
        "over a yearly ceiling by arithmetic, within it by the reading of the written amounts (half their last digit, "
        "at most 2 % of the limit)",
        "nothing; weigh more exactly next time",
        LABEL,
    ),
    Code.OVER_COUNT: CodeWords("more applications than the label allows in its year or season", _SIGN, LABEL),
    Code.TOO_SOON: CodeWords("fewer days since the last application than the label asks for", _SIGN, LABEL),
    Code.SITE_NOT_LISTED: CodeWords("the label does not name this kind of ground", _SIGN, LABEL),
    Code.TURF_NOT_LISTED: CodeWords("the label does not name this grass", _SIGN, LABEL),
    Code.TURF_SENSITIVE: CodeWords("the label calls this grass sensitive, or not to be treated", _SIGN, LABEL),
    Code.METHOD_NOT_ALLOWED: CodeWords("the label does not give this way of applying it", _SIGN, LABEL),
    Code.OVER_WIND: CodeWords("the wind was over the label's limit", _SIGN, LABEL),
    Code.OVER_TEMPERATURE: CodeWords("the air was over the label's limit", _SIGN, LABEL),
    Code.LICENCE_MISSING: CodeWords(
        "who applied has no licence of the site's state in the book", "load it, or name who holds one", LICENCE
    ),
    Code.LICENCE_LAPSED: CodeWords("the licence was not valid on the day of the work", _SIGN, LICENCE),
    Code.LICENCE_CATEGORY: CodeWords("the licence does not cover this kind of work", _SIGN, LICENCE),
    Code.SUPERVISION: CodeWords(
        "a technician or trainee needs a certified person who answers for the work", "name the supervisor", LICENCE
    ),
    Code.REGISTRATION_FORMAT: CodeWords(
        "a registration number is not built as federal or state numbers are",
        "copy it from the label",
        "40 CFR 156.10(e)",
    ),
    Code.PRODUCT_UNKNOWN: CodeWords("the book has no such product", "load it with its label, or correct the id", TOOL),
    Code.AREA_OVER_ZONE: CodeWords("more was treated than the zone measures", _LOOK, TOOL),
    Code.UNLIKELY_AMOUNT: CodeWords(
        "far from what this book has seen of the product and method, from the zone's measure, or from usual weather",
        _LOOK,
        TOOL,
    ),
    Code.WEATHER_AGED: CodeWords(
        "the weather was measured more than 60 minutes before the start, or as long after the end; the last stop's "
        "reading may serve within the hour, later measure again at the site",
        _LOOK,
        TOOL,
    ),
    Code.SAME_DAY: CodeWords("the site has another record of that day", _LOOK, TOOL),
    Code.FUTURE_DATE: CodeWords("the work lies in the future", _CORRECT, TOOL),
    Code.CLOCK_ORDER: CodeWords("the end stands before the start, or far after it", _CORRECT, TOOL),
    Code.BELOW_RATE: CodeWords(
        "less than the label's lowest rate; lawful unless the label says otherwise",
        _ALLOWED,
        ALLOWED,
    ),
    Code.TARGET_NOT_LISTED: CodeWords(
        "the label does not name this weed; lawful unless it says otherwise",
        _ALLOWED,
        ALLOWED,
    ),
    Code.GROUP_REPEAT: CodeWords(
        "the same mode of action again on the same ground",
        "think of another group next time",
        "common practice against resistance",
    ),
    Code.LATE: CodeWords(
        "the record was completed after the time its rules give", "nothing; it is kept as late, never back-dated", PACKS
    ),
    Code.NOT_CHECKABLE: CodeWords("a limit could not be compared: an area or an amount is not known", _LOOK, TOOL),
    Code.NOT_NOTIFIED: CodeWords(
        "someone on the site's list of people to tell was not told of that day, or not early enough",
        "log the contact (swathbook contact); where the work went ahead all the same, list the code under confirmed",
        "the advance-notice rule of the site's state: swathbook notify SITE --on DAY names it",
    ),
    Code.PARTNER_NOT_ALLOWED: CodeWords("a label in the mix forbids another product in it", _SIGN, LABEL),
    Code.ADJUVANT_MISSING: CodeWords("a label in the mix asks for an adjuvant that is not in it", _SIGN, LABEL),
}

CODES |= {
    Code.OVER_NUTRIENT: CodeWords(
        "more of a nutrient at one time or in a year than the state's fertilizer law lets go on turf, or phosphorus "
        "without a cause that it names",
        _SIGN,
        FERTILIZER,
    ),
    Code.BLACKOUT: CodeWords(
        "a day, or a state of the ground, on which the state lets no fertilizer be put on turf", _SIGN, FERTILIZER
    ),
    Code.SETBACK: CodeWords(
        "fertilizer nearer to water than the state allows, or on pavement; noted where the distance is not recorded",
        _SIGN,
        FERTILIZER,
    ),
    Code.CALIBRATION_STALE: CodeWords(
        "the area of a spot is estimated by a calibration that does not count any more: older than 365 days, of the "
        "season before, before a change of nozzle, or of an unknown day (common practice)",
        "calibrate it again: swathbook calibrate; or measure the spot and write its area",
        TOOL,
    ),
    Code.STATION_WEATHER: CodeWords(
        "the wind or the temperature is of a weather station and not of the site; asked where a label limits the wind",
        "measure at the site where you can; where the station's value stands, list the code under confirmed",
        TOOL,
    ),
    Code.DRIFT_WEATHER: CodeWords(
        "air in which spray drifts more easily: Delta T (dry minus wet bulb) outside 2 to 8 degC, or wind under 3 mph",
        "nothing; it is advice: coarser drops, another hour, a look at how smoke lies (swathbook weather says more)",
        "extension and research advice, named with each note",
    ),
    Code.LOT_EXPIRED: CodeWords(
        "a lot that was used after the last day of use that its purchase names",
        "nothing, where it was so; correct the lot where another one was used; swathbook stock PRODUCT lists the lots",
        TOOL,
    ),
}

_STOP, _ASK, _NOTE = (Severity.STOP,), (Severity.ASK,), (Severity.NOTE,)
# How heavily a check may tell a code, the heaviest first; the rest stop. A ceiling asks where only stacked treatments
# would break it, and what a label advises ("should") is noted.
SEVERITIES: dict[Code, tuple[Severity, ...]] = dict.fromkeys(Code, _STOP) | {
    Code.MISSING: _STOP + _ASK,
    Code.DISAGREE: _STOP + _ASK,
    Code.UNKNOWN_NAME: _STOP + _NOTE,
    Code.OVER_RATE: _STOP + _ASK,
    Code.OVER_YEAR: _STOP + _ASK + _NOTE,
    Code.OVER_ACTIVE: _STOP + _ASK + _NOTE,
    Code.OVER_COUNT: _STOP + _ASK + _NOTE,
    Code.TOO_SOON: _STOP + _ASK + _NOTE,
    Code.TURF_SENSITIVE: _STOP + _ASK,
    Code.OVER_WIND: _STOP + _NOTE,
    Code.OVER_TEMPERATURE: _STOP + _NOTE,
    Code.AREA_OVER_ZONE: _ASK,
    Code.UNLIKELY_AMOUNT: _ASK,
    Code.WEATHER_AGED: _ASK,
    Code.SAME_DAY: _ASK,
    Code.BELOW_RATE: _STOP + _NOTE,
    Code.TARGET_NOT_LISTED: _STOP + _NOTE,
    Code.GROUP_REPEAT: _NOTE,
    Code.LATE: _NOTE,
    Code.NOT_CHECKABLE: _ASK + _NOTE,
    Code.NOT_NOTIFIED: _ASK,
    Code.PARTNER_NOT_ALLOWED: _STOP + _NOTE,
    Code.ADJUVANT_MISSING: _STOP + _NOTE,
    Code.OVER_NUTRIENT: _STOP + _ASK + _NOTE,
    Code.BLACKOUT: _STOP + _ASK + _NOTE,
    Code.SETBACK: _STOP + _ASK + _NOTE,
    Code.CALIBRATION_STALE: _NOTE,
    Code.STATION_WEATHER: _ASK + _NOTE,
    Code.DRIFT_WEATHER: _NOTE,
    Code.WITHIN_READING: _NOTE,
    Code.LOT_EXPIRED: _NOTE,
}
SEVERITY_WORDS = {
    Severity.STOP: "stops the visit",
    Severity.ASK: "holds it until it is answered",
    Severity.NOTE: "is only noted",
}

# Places that several fields are filled from -> the one that the place is about
PLACES = {"site": "site_address", "started": "start_time", "finished": "end_time"}

# Last part of a place in an entry -> what the tool uses it for; the rest are fields, which rules may ask for
PARTS: dict[str, str] = {
    "ref": "your own reference: the same one with the same content is closed once only",
    "weather": "what was measured: wind_speed, wind_from, wind_gust, temperature, humidity, measured_at; or a metar",
    "wind_gust": "the strongest gust; labels are compared with the steady wind, a gust over it is noted (over-wind)",
    "humidity": "the humidity of the air; with the temperature it gives Delta T (drift-weather)",
    "metar": "an airport's coded report as pasted; it fills in what was not measured at the site (station-weather)",
    "station": "the weather station that the values are of",
    "distance": "how far the station is from the site",
    "measured_at": "when the weather was measured; more than 60 minutes from the work it is asked about (weather-aged)",
    "source": "what the weather was measured with, such as a meter or a station",
    "not_measured": "why something was not measured, where a rule takes a reason in its place",
    "treatments": "one method over one or more zones each, with its products",
    "products": "the products of a treatment: product, rate or amount, lot, supplier",
    "mix": "a load made up once, of which this stop took a share (with spray)",
    "lot": "the lot on the container; it leads from a recall to the lawns",
    "water_distance": "how far fertilizer stayed from the nearest water; laws keep it away (setback)",
    "deflector": "true where fertilizer went on with a drop spreader, a deflector or targeted liquid",
    "soil_test": "the day of the soil test that shows a need of phosphorus (over-nutrient)",
    "turf_stage": "new or repair, where the turf is not established; phosphorus may depend on it",
    "plot": "a plot of a trial, TRIAL/PLOT; it has to be one of the plan, and what went on is held against its entry",
    "ground": "open, frozen, snow or saturated; laws bar fertilizer on some of them (blackout)",
    "meter": "the utility meter as read there; one that is not the site's shows a wrong address (disagree)",
    "follow_up": "the day to come back and judge",
    "sign_removal": "when the lawn sign may come down; printed on the notice",
    "confirmed": "codes of questions that were looked at and stand as typed",
    "remarks": "anything else; kept as typed",
}
