"""Every fact of a sealed record as text: one reader for paper, sheet and comparison of two revisions.

A fact that rules ask for goes by its name in `rules/fields.py`; the others have names of their own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.domain.report_model import one_line
from records.domain.weather import told_value
from records.rules.fields import Level
from records.services.closing.nutrient_body import told as nutrients_told
from records.services.inspecting.words import (
    LONG,
    actives_words,
    amount_words,
    day_or_month,
    instant,
    late_words,
    licence_words,
    line_of,
    moment,
    person_words,
    place_words,
    registration_words,
)
from records.services.weather_words import beside_words, source_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from records.services.ports import Json


@dataclass(frozen=True, slots=True)
class Reading:
    """How one fact is read."""

    key: str
    title: str
    level: Level
    read: Callable[[Json, Json, Json], str]  # body, treatment, line; what does not belong to the level is empty


def _part(name: str, key: str) -> Callable[[Json, Json, Json], str]:
    return lambda body, _treatment, _line: line_of((body.get(name) or {}).get(key))


def _of_body(key: str) -> Callable[[Json, Json, Json], str]:
    return lambda body, _treatment, _line: line_of(body.get(key))


def _weather(key: str) -> Callable[[Json, Json, Json], str]:
    def read(body: Json, _treatment: Json, _line: Json) -> str:
        weather = body.get("weather") or {}
        if weather.get(key):
            return line_of(told_value(str(weather[key])))  # a station's knots and degC in mph and degF beside
        reason = (weather.get("not_measured") or {}).get(key)
        return f"not measured: {line_of(reason)}" if reason else ""

    return read


def _of_treatment(key: str) -> Callable[[Json, Json, Json], str]:
    return lambda _body, treatment, _line: line_of(treatment.get(key))


def _of_product(key: str) -> Callable[[Json, Json, Json], str]:
    return lambda _body, _treatment, line: line_of(line["product"].get(key))


def _of_label(key: str) -> Callable[[Json, Json, Json], str]:
    return lambda _body, _treatment, line: line_of((line.get("label") or {}).get(key))


def _area(_body: Json, treatment: Json, _line: Json) -> str:
    area = line_of(treatment.get("area"))
    how = {"derived": " (from rate and amount)", "estimated": " (estimate from spray and calibrated output)"}
    by = treatment.get("calibration") or {}
    if area and by:
        return f"{area} (estimate from spray and {line_of(by.get('output'))}, {line_of(by.get('words'))})"
    return area and area + how.get(treatment.get("area_source") or "", "")


def _zones(_body: Json, treatment: Json, _line: Json) -> str:
    told = []
    for zone in treatment.get("zones") or []:
        sort = ", ".join(line_of(name) for name in zone.get("turf") or []) or line_of(zone.get("kind"))
        treated = f", {line_of(zone['treated'])} treated" if zone.get("treated") else ""
        measured = f" of {line_of(zone['area'])}" if zone.get("area") else ""
        told.append(f"{line_of(zone.get('name')) or line_of(zone.get('id'))} ({sort}{treated}{measured})")
    return "; ".join(told)


def _site_type(_body: Json, treatment: Json, _line: Json) -> str:
    kinds = dict.fromkeys(line_of(zone.get("kind")) for zone in treatment.get("zones") or [])
    return ", ".join(filter(None, kinds)) or line_of(treatment.get("site_kind"))


def _purpose(_body: Json, treatment: Json, _line: Json) -> str:
    return line_of(treatment.get("purpose")) or ", ".join(line_of(name) for name in treatment.get("targets") or [])


def _equipment(_body: Json, treatment: Json, _line: Json) -> str:
    return line_of((treatment.get("equipment") or {}).get("name"))


def _targets(_body: Json, treatment: Json, line: Json) -> str:
    return ", ".join(line_of(name) for name in line.get("targets") or treatment.get("targets") or [])


def _product_name(_body: Json, _treatment: Json, line: Json) -> str:
    product = line["product"]
    return line_of(product.get("name")) or line_of(product.get("id"))


def _registration(_body: Json, _treatment: Json, line: Json) -> str:
    return registration_words(line["product"])


def _active(_body: Json, _treatment: Json, line: Json) -> str:
    return actives_words(line["product"], content=False)


def _active_percent(_body: Json, _treatment: Json, line: Json) -> str:
    return actives_words(line["product"], content=True)


def _pounds(_body: Json, _treatment: Json, line: Json) -> str:
    return "; ".join(
        f"{line_of(active.get('name'))} {line_of(active['pounds'])} lb {line_of(active.get('as'))}"
        for active in line.get("actives") or []
        if active.get("pounds")
    )


def _form(_body: Json, _treatment: Json, line: Json) -> str:
    form = line_of(line["product"].get("form"))
    return "" if form == "unknown" else form


def _amount(_body: Json, _treatment: Json, line: Json) -> str:
    return amount_words(line.get("amount"))


def _rate(_body: Json, treatment: Json, line: Json) -> str:
    if line.get("rate"):
        return line_of(line["rate"])
    over = line.get("area") or treatment.get("spray")
    return f"{line_of(line['amount'])} over {line_of(over)}" if line.get("amount") and over else ""


def _dilution(_body: Json, treatment: Json, line: Json) -> str:
    if treatment.get("dilution"):
        return line_of(treatment["dilution"])
    if treatment.get("spray") and line.get("amount"):
        return f"{line_of(line['amount'])} in {line_of(treatment['spray'])}"
    rate = line_of(line.get("rate"))
    if "/gal" in rate or "%" in rate:
        return rate
    return line_of(treatment.get("spray")) or (
        "granules, undiluted" if line["product"].get("form") == "granule" else ""
    )


def _reentry(body: Json, _treatment: Json, line: Json) -> str:
    reentry = line_of((line.get("label") or {}).get("reentry"))
    finished = moment(body.get("finished"))
    return f"{reentry} after {finished}" if reentry and finished else reentry


def _directions(_body: Json, _treatment: Json, line: Json) -> str:
    return "; ".join(line_of(rate) for rate in ((line.get("label") or {}).get("use") or {}).get("rates") or [])


def _restricted(_body: Json, _treatment: Json, line: Json) -> str:
    restricted = line["product"].get("restricted_use")
    return "yes" if restricted else "" if restricted is None else "no"


def _sort(_body: Json, _treatment: Json, line: Json) -> str:
    product = line["product"]
    return ", ".join(dict.fromkeys(filter(None, (line_of(product.get("kind")), line_of(product.get("type"))))))


def _insurance(body: Json, _treatment: Json, _line: Json) -> str:
    firm = body.get("business") or {}
    return ", ".join(filter(None, (line_of(firm.get("insurer")), line_of(firm.get("insured")))))


def _time(body: Json, _treatment: Json, _line: Json) -> str:
    return line_of(body.get("time")) or moment(body.get("started")) or moment(body.get("finished"))


def _authorized(body: Json, _treatment: Json, _line: Json) -> str:
    return line_of(body.get("authorized_by"))


def _supervisor(body: Json, _treatment: Json, _line: Json) -> str:
    told = person_words(body.get("supervisor"))
    kind = ((body.get("applicator") or {}).get("licence") or {}).get("kind")
    return told or ("the applicator, certified" if kind == "certified" else "")


def _origin(body: Json, _treatment: Json, _line: Json) -> str:
    origin = body.get("origin") or {}
    if origin.get("kind") != "import":
        return ""
    rows = ", ".join(str(row) for row in (origin.get("rows") or [])[:20])
    source = line_of(origin.get("source"))
    return ", ".join(filter(None, (f"imported from {line_of(origin.get('file'))}, rows {rows}", source)))


def _visit(key: str, title: str, read: Callable[[Json, Json, Json], str]) -> Reading:
    return Reading(key, title, Level.VISIT, read)


def _treat(key: str, title: str, read: Callable[[Json, Json, Json], str]) -> Reading:
    return Reading(key, title, Level.TREATMENT, read)


def _line(key: str, title: str, read: Callable[[Json, Json, Json], str]) -> Reading:
    return Reading(key, title, Level.LINE, read)


READINGS = (
    _visit("date", "Date", lambda body, _t, _l: day_or_month(body)),
    _visit("start_time", "Start", lambda body, _t, _l: moment(body.get("started"))),
    _visit("end_time", "End", lambda body, _t, _l: moment(body.get("finished"))),
    _visit("time", "Time", _time),
    _visit("customer_name", "Customer", _part("customer", "name")),
    _visit("customer_address", "Customer's address", _part("customer", "address")),
    _visit("customer_phone", "Customer's phone", _part("customer", "phone")),
    _visit("authorized_by", "Authorized by", _authorized),
    _visit("site_address", "Treated address", lambda body, _t, _l: place_words(body.get("site"))),
    _visit("city", "Town", _part("site", "city")),
    _visit("county", "County", _part("site", "county")),
    _visit("zip", "ZIP", _part("site", "zip")),
    _visit("applicator_name", "Applied by", _part("applicator", "name")),
    _visit(
        "applicator_licence",
        "Applicator's licence",
        lambda body, _t, _l: licence_words((body.get("applicator") or {}).get("licence")),
    ),
    _visit("supervisor", "Certified person", _supervisor),
    _visit("business_name", "Firm", _part("business", "name")),
    _visit("business_address", "Firm's address", _part("business", "address")),
    _visit("business_licence", "Firm's licence", _part("business", "licence")),
    _visit("wind_speed", "Wind speed", _weather("wind_speed")),
    _visit("wind_direction", "Wind from", _weather("wind_from")),
    _visit("temperature", "Temperature", _weather("temperature")),
    _visit("incident", "Incident", lambda body, _t, _l: one_line(body.get("incident"), LONG)),
    _visit("insurance", "Insurance", _insurance),
    _visit("meter", "Meter read", _of_body("meter")),
    _visit("permit", "Permit", _of_body("permit")),
    _visit("mixing_place", "Mixed at", _of_body("mixing_place")),
    _treat("site_type", "Site type", _site_type),
    _treat("area", "Treated area", _area),
    _treat("extent", "Extent", _of_treatment("extent")),
    _treat("method", "Method", _of_treatment("method")),
    _treat("equipment", "Equipment", _equipment),
    _treat("total_mix", "Finished spray", _of_treatment("spray")),
    _treat("purpose", "Purpose", _purpose),
    _treat("diluent", "Diluted with", _of_treatment("diluent")),
    _line("product_name", "Product", _product_name),
    _line("epa_reg_no", "Registration number", _registration),
    _line("active_ingredient", "Active ingredient", _active),
    _line("active_percent", "Content of actives", _active_percent),
    _line("formulation", "Form", _form),
    _line("analysis", "Analysis", _of_product("analysis")),
    _line("maker", "Maker", _of_product("maker")),
    _line("supplier", "Supplier", lambda _b, _t, line: line_of(line.get("supplier"))),
    _line("amount", "Product put out", _amount),
    _line("rate", "Rate", _rate),
    _line("dilution", "Dilution", _dilution),
    _line("target_pest", "Against", _targets),
    _line("reentry", "Re-entry", _reentry),
    # What no rule of the packs asks by a name of its own
    _visit("state", "State", _part("site", "state")),
    _visit("site", "Site id", _part("site", "id")),
    _treat("zones", "Where", _zones),
    _line("product_kind", "Kind of product", _sort),
    _line("restricted_use", "Restricted use", _restricted),
    _line("signal_word", "Signal word", _of_product("signal_word")),
    _line("lot", "Lot", lambda _b, _t, line: line_of(line.get("lot"))),
    _line("mix", "Mix", lambda _b, _t, line: line_of(line.get("mix"))),
    _line("label", "Label revision", _of_label("revision")),
    _line("directions", "Label allows", _directions),
    _line("keep_off", "Label: keep off", _of_label("keep_off")),
    _line("active_pounds", "Active put out", _pounds),
    _line("nutrients", "Nutrients put out", lambda _b, _t, line: nutrients_told(line)),
    _treat("water_distance", "From water", _of_treatment("water_distance")),
    _treat("soil_test", "Soil test", _of_treatment("soil_test")),
    _treat("turf_stage", "Turf", _of_treatment("turf_stage")),
    _treat("ground", "Ground", _of_treatment("ground")),
    _line("count", "Applications summed", lambda _b, _t, line: line_of(line.get("count"))),
    _visit("humidity", "Humidity", _weather("humidity")),
    _visit("measured_at", "Weather measured", lambda b, _t, _l: moment((b.get("weather") or {}).get("measured_at"))),
    _visit("weather_source", "Weather from", lambda body, _t, _l: line_of(source_words(body.get("weather") or {}))),
    _visit("wind_gust", "Gusts", _weather("wind_gust")),
    _visit("station_beside", "Station beside", lambda body, _t, _l: line_of(beside_words(body.get("weather") or {}))),
    _visit("metar", "METAR", lambda body, _t, _l: one_line((body.get("weather") or {}).get("metar"), LONG)),
    _visit("sign_removal", "Sign until", lambda body, _t, _l: moment(body.get("sign_removal"))),
    _visit("follow_up", "Follow-up", _of_body("follow_up")),
    _visit("entered", "Entered", lambda body, _t, _l: instant(body.get("entered_at"))),
    _visit("late", "Entered late", lambda body, _t, _l: late_words(body)),
    _visit("confirmed", "Confirmed", lambda b, _t, _l: ", ".join(line_of(code) for code in b.get("confirmed") or [])),
    _visit("origin", "Origin", _origin),
    _visit("ref", "Reference", _of_body("ref")),
    _visit("remarks", "Remarks", lambda body, _t, _l: one_line(body.get("remarks"), LONG)),
)
BY_KEY = {reading.key: reading for reading in READINGS}
_OF = {level: tuple((r.key, r.read) for r in READINGS if r.level is level) for level in Level}
_LEVELS = {reading.key: reading.level for reading in READINGS}
_NOTHING: Json = {}


@dataclass(frozen=True, slots=True)
class Facts:
    """Every fact of a record, by key: those of the visit, of each treatment, of each product put out."""

    visit: dict[str, str]
    treatments: tuple[dict[str, str], ...]
    lines: tuple[tuple[int, dict[str, str]], ...]  # number of the treatment, facts

    def joined(self, key: str) -> str:
        """Return one text for all parts of the record: what they share, or each part's own after its mark.

        Treatments are marked `A`, `B`; products `1`, `2`, or `A1`, `B1` where there are several treatments.
        """
        level = _LEVELS[key]
        if level is Level.VISIT:
            return self.visit[key]
        if level is Level.TREATMENT:
            return _joined([part[key] for part in self.treatments], _letters(len(self.treatments)))
        return _joined([part[key] for _, part in self.lines], self.marks(level))

    def differing(self, other: Facts, key: str) -> tuple[str, str]:
        """Return what two texts of a record say of a fact; of parts that both have, those only that differ."""
        level, pair = _LEVELS[key], (self, other)
        if level is Level.VISIT or len(self.treatments) != len(other.treatments):
            return self.joined(key), other.joined(key)
        marks = [one.marks(level) for one in pair]
        if len(marks[0]) == 1 or marks[0] != marks[1]:
            return self.joined(key), other.joined(key)
        texts = [one.texts(key) for one in pair]
        which = [place for place, (old, new) in enumerate(zip(*texts, strict=True)) if old != new]
        if len(which) == len(marks[0]):
            return self.joined(key), other.joined(key)
        told = ["; ".join(f"{marks[0][place]}: {text[place] or '-'}" for place in which) for text in texts]
        return told[0], told[1]

    def texts(self, key: str) -> list[str]:
        """Return a fact of each part, in their order."""
        if _LEVELS[key] is Level.TREATMENT:
            return [part[key] for part in self.treatments]
        return [part[key] for _, part in self.lines]

    def marks(self, level: Level) -> list[str]:
        """Return the marks of the parts of a level, in their order."""
        if level is Level.TREATMENT:
            return _letters(len(self.treatments))
        letters, seen, marks = _letters(len(self.treatments)), [0] * len(self.treatments), []
        for number, _ in self.lines:
            seen[number] += 1
            marks.append(f"{letters[number] if len(letters) > 1 else ''}{seen[number]}")
        return marks

    def rows(self) -> list[list[str]]:
        """Return one row for each product put out, by `READINGS`; one alone where there is none."""
        lines = self.lines or ((-1, dict.fromkeys((key for key, _ in _OF[Level.LINE]), "")),)
        empty = dict.fromkeys((key for key, _ in _OF[Level.TREATMENT]), "")
        found = []
        for number, line in lines:
            parts = {**self.visit, **(self.treatments[number] if number >= 0 else empty), **line}
            found.append([parts[reading.key] for reading in READINGS])
        return found


def read_facts(body: Json) -> Facts:
    """Return every fact of a record.

    Args:
        body: as sealed.
    """
    visit = {key: read(body, _NOTHING, _NOTHING) for key, read in _OF[Level.VISIT]}
    treatments: list[dict[str, str]] = []
    lines: list[tuple[int, dict[str, str]]] = []
    for number, treatment in enumerate(body["treatments"]):
        treatments.append({key: read(body, treatment, _NOTHING) for key, read in _OF[Level.TREATMENT]})
        lines.extend(
            (number, {key: read(body, treatment, line) for key, read in _OF[Level.LINE]})
            for line in treatment["applications"]
        )
    return Facts(visit, tuple(treatments), tuple(lines))


def _letters(count: int) -> list[str]:
    return [chr(65 + number) if number < 26 else f"T{number + 1}-" for number in range(count)]


def _joined(texts: list[str], marks: list[str]) -> str:
    if not texts:
        return ""
    if len(texts) == 1 or all(text == texts[0] for text in texts):
        return texts[0]
    return "; ".join(f"{mark}: {text or '-'}" for mark, text in zip(marks, texts, strict=True))
