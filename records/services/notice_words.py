"""How single facts of a record read on a notice: dates, amounts, people, in the firm's own wording.

`NOTICE_KEYS` names every text a notice template has to hold, with the places it may use.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from records.domain.report_model import Fact, one_line
from records.domain.weather import converted, parse_direction
from records.services.weather_words import filled, is_of_station

if TYPE_CHECKING:
    from records.domain.report_model import Wording

# The national lines, here and not in the templates so that no edit of wording can change a number. Poison Help answers
# day and night and reaches the local poison center; NPIC answers on weekdays and is no emergency line.
EMERGENCY = "911"
POISON_HELP = "1-800-222-1222"
NPIC = "1-800-858-7378"

_KEYS = """
document.title document.corrected_title document.subtitle(date,address)
document.season_title(year) document.season_subtitle(address)
document.subject document.issued(date) document.page(page,pages) document.continued(firm,title)
firm.licence(number)
fact.customer fact.address fact.date fact.time fact.applicator fact.supervisor fact.wind fact.temperature
fact.area fact.spray fact.equipment fact.rate fact.amount fact.serial fact.remade(revision) fact.corrected(date)
fact.signature(person)
value.not_recorded value.not_measured(reason) value.times(start,end) value.times_over(start,end) value.started(start)
value.finished(end) value.wind(speed,direction) value.wind_variable(speed) value.wind_unknown(speed,why) value.calm
value.station(reading,station)
value.zone(name,kind) value.zone_as_named(name,kind)
value.period(period) value.person(name,licence) value.per(amount,per) value.estimated(area) value.described(extent)
value.registration(number) value.exempt(exemption) value.not_registered value.no_registration value.restricted
value.signal_word(word) value.no_actives value.actives_missing value.ai(actives) value.ae(actives)
value.for_targets(targets) value.this_area(area) value.maker(maker)
keep_off.heading keep_off.last_visit(date) keep_off.heading_fertilizer keep_off.last_visit_fertilizer(date)
keep_off.fertilizer(phone) keep_off.source(products,where) keep_off.missing(phone)
keep_off.ask_first(phone) keep_off.from_english(text) keep_off.sign(time) keep_off.sign_missing(phone)
keep_off.reentry(span,time) keep_off.reentry_open(span)
emergency.heading emergency.call_911 emergency.when_911 emergency.poison_help emergency.when_poison_help
emergency.npic emergency.when_npic emergency.note
label.precautions label.first_aid label.results label.source(products) label.from_english
label.first_aid_missing(poison_help) label.precautions_missing(phone)
visit.heading visit.season_heading visit.visit(date) visit.treatment(where,method,targets)
visit.treatment_fertilizer(where,method) visit.product visit.active
visit.treated visit.changed(what,before,after)
visit.deviation(reason) visit.broken(text) visit.signed(person,phone)
footer.label_copy(firm,phone)
mail.subject(date,address) mail.text(date,address,firm,phone)
dates.date(day,month,year) dates.period(month,year) dates.am(hour,minute) dates.pm(hour,minute)
dates.moment(date,time) dates.moment_at_one(date,time)
"""
NOTICE_KEYS = {
    found[1]: frozenset(filter(None, (found[2] or "").split(",")))
    for found in re.finditer(r"([a-z_]+\.[a-z_0-9]+)(?:\(([a-z_,]+)\))?", _KEYS)
}
NOTICE_LISTS = {"footer.cautions": None, "dates.months": 12}  # how many entries; None: any number

_AMOUNT = re.compile(r"([\d.,/ ]*\d)\s*(\D.*)")


def _grouped(number: str) -> str:
    whole, point, rest = number.partition(".")
    return f"{int(whole):,}{point}{rest}" if whole.isascii() and whole.isdigit() and len(whole) > 3 else number


class Reader:
    """Turns the facts of one sealed body into text, in the wording and language of the notice."""

    def __init__(self, wording: Wording) -> None:
        """Read with this wording."""
        self.wording = wording

    @property
    def not_recorded(self) -> str:
        """Return the word for a fact that the record does not hold."""
        return self.wording("value.not_recorded")

    def word(self, text: object) -> str:
        """Return a word of the trade in the language of the notice."""
        return self.wording.word(one_line(text))

    def words(self, texts: list[Any]) -> str:
        """Return several words of the trade with commas between."""
        return ", ".join(filter(None, (self.word(text) for text in texts)))

    def fact(self, label: str, value: str) -> Fact:
        """Return a named value; an empty one is said to be missing.

        Args:
            label: key under `fact`.
            value: already readable text.
        """
        return Fact(self.wording(f"fact.{label}"), value or self.not_recorded, missing=not value)

    def day(self, value: date) -> str:
        """Return a day in words."""
        month = self.wording.lists["dates.months"][value.month - 1]
        return self.wording("dates.date", day=str(value.day), month=month, year=str(value.year))

    def corrected(self, body: dict[str, Any]) -> str:
        """Return when a record was corrected last, and that its earlier notices hold no more."""
        stamp = local_time((body.get("change") or {}).get("at"))
        if stamp is None or stamp.tzinfo is None:
            return ""
        at = stamp.astimezone(ZoneInfo(body["timezone"]))
        return self.wording("fact.corrected", date=self.day(at.date()))

    def period(self, text: str) -> str:
        """Return a month (`2026-05`) in words."""
        found = re.fullmatch(r"(\d{4})-(0[1-9]|1[0-2])", text)
        if found is None:
            return one_line(text)
        month = self.wording.lists["dates.months"][int(found[2]) - 1]
        return self.wording("dates.period", month=month, year=found[1])

    def clock(self, value: datetime) -> str:
        """Return a time of day in words, twelve hours."""
        key = "dates.am" if value.hour < 12 else "dates.pm"
        return self.wording(key, hour=str(value.hour % 12 or 12), minute=f"{value.minute:02d}")

    def moment(self, instant: datetime) -> str:
        """Return a day and a time of day in words."""
        key = "dates.moment_at_one" if instant.hour % 12 == 1 else "dates.moment"
        return self.wording(key, date=self.day(instant.date()), time=self.clock(instant))

    def when(self, body: dict[str, Any]) -> str:
        """Return the day of a visit, or the month where the record holds no day."""
        text = body.get("date")
        if isinstance(text, str):
            try:
                return self.day(date.fromisoformat(text))
            except ValueError:
                return one_line(text)
        period = body.get("period")
        return self.wording("value.period", period=self.period(period)) if isinstance(period, str) else ""

    def times(self, body: dict[str, Any]) -> str:
        """Return start and end; one that is missing is said to be."""
        started, finished = local_time(body.get("started")), local_time(body.get("finished"))
        if started is None and finished is None:
            return ""
        if finished is None or started is None:
            if started is not None:
                return self.wording("value.started", start=self.clock(started))
            assert finished is not None  # noqa: S101 - one of the two is there
            return self.wording("value.finished", end=self.clock(finished))
        if finished.date() != started.date():
            return self.wording("value.times_over", start=self.clock(started), end=self.moment(finished))
        return self.wording("value.times", start=self.clock(started), end=self.clock(finished))

    def measure(self, text: object) -> str:
        """Return an amount, rate, speed or temperature with its unit in words; digits stay as recorded."""
        line = one_line(text)
        found = _AMOUNT.fullmatch(line)
        if found is None:
            return line
        number, unit = _grouped(found[1]), found[2].strip()
        top, slash, per = unit.partition("/")
        if slash and not unit.startswith("%"):
            amount = self._counted(number, top)
            below = self.wording.word(f"per {per}")
            return self.wording("value.per", amount=amount, per=self.word(per) if below == f"per {per}" else below)
        return self._counted(number, unit)

    def _counted(self, number: str, unit: str) -> str:
        """Return a number with its unit, which some languages want in the singular after a 1."""
        one = f"1 {unit}"
        return (
            self.wording.word(one)
            if number == "1" and one.casefold() in self.wording.words
            else f"{number} {self.word(unit)}"
        )

    def person(self, person: dict[str, Any] | None) -> str:
        """Return a name with the licence number frozen in the record."""
        if not person:
            return ""
        name = one_line(person.get("name")) or one_line(person.get("id"))
        number = one_line((person.get("licence") or {}).get("number"))
        return self.wording("value.person", name=name, licence=number or self.not_recorded)

    def weather(self, weather: dict[str, Any] | None, key: str) -> str:
        """Return a reading, or why there is none; wind has its direction with it, a station's value its name."""
        weather = weather or {}
        told = self._reading(weather, key)
        is_station = is_of_station(weather) or key in filled(weather)
        if not weather.get(key) or not is_station:
            return told
        return self.wording("value.station", reading=told, station=one_line(weather.get("station"))).replace(" )", ")")

    def _reading(self, weather: dict[str, Any], key: str) -> str:
        value = self.measure(weather.get(key))
        if value and (other := converted(str(weather[key]))) and weather.get("station"):
            value = f"{value} ({self.measure(other)})"
        if not value:
            return self._unmeasured(weather, key)
        if key != "wind_speed":
            return value
        point = _point(one_line(weather.get("wind_from")))
        if point.casefold() == "calm":
            return self.wording("value.calm")
        if point.casefold() == "variable":
            return self.wording("value.wind_variable", speed=value)
        if not point:
            why = self._unmeasured(weather, "wind_from") or self.not_recorded
            return self.wording("value.wind_unknown", speed=value, why=why)
        return self.wording("value.wind", speed=value, direction=self.word(point))

    def _unmeasured(self, weather: dict[str, Any], key: str) -> str:
        """Return that a reading was not taken, with the reason as it was written down; "" where none is stated."""
        reason = one_line((weather.get("not_measured") or {}).get(key))
        return self.wording("value.not_measured", reason=reason) if reason else ""

    def zones(self, treatment: dict[str, Any]) -> str:
        """Return where on the property, first letter in upper case."""
        names = [self.zone(zone) for zone in treatment.get("zones") or []]
        return ", ".join(filter(None, names)) or self.not_recorded

    def places(self, treatment: dict[str, Any]) -> str:
        """Return the parts of the property by name alone."""
        return ", ".join(self._zone_name(zone) for zone in treatment.get("zones") or []) or self.not_recorded

    def zone(self, zone: dict[str, Any]) -> str:
        """Return one part of the property: its name, and what grows there."""
        name, kind = self._zone_name(zone), self.word(zone.get("kind"))
        if not kind or kind.casefold() in name.casefold():
            return name
        if _named(zone).casefold() in self.wording.words:
            return self.wording("value.zone", name=name, kind=kind)
        told = self.wording("value.zone_as_named", name=name, kind=kind)
        return f"{told[:1].upper()}{told[1:]}"

    def _zone_name(self, zone: dict[str, Any]) -> str:
        name = self.word(_named(zone))
        return f"{name[:1].upper()}{name[1:]}" or self.not_recorded

    def area(self, treatment: dict[str, Any]) -> str:
        """Return the treated area and how it is known."""
        area, extent = self.measure(treatment.get("area")), one_line(treatment.get("extent"))
        if area:
            estimated = treatment.get("area_source") == "estimated"
            return self.wording("value.estimated", area=area) if estimated else area
        return self.wording("value.described", extent=extent) if extent else ""


def _named(zone: dict[str, Any]) -> str:
    """Return what the firm calls a part of a property."""
    return one_line(zone.get("name")) or one_line(zone.get("id")).replace("-", " ").replace("_", " ")


def _point(direction: str) -> str:
    """Return where wind came from as a point of the compass: degrees tell a customer nothing."""
    if not direction:
        return ""
    try:
        return parse_direction(direction).point
    except ValueError:
        return direction


def local_time(stamp: object) -> datetime | None:
    """Return the local time of a stamp (`{"local", "utc"}` or its text); None when it has none."""
    text = stamp.get("local") if isinstance(stamp, dict) else stamp
    if not isinstance(text, str):
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None
