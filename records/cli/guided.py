"""Closing a visit by questions: defaults are shown in brackets, Enter takes them; what must not be guessed is asked."""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

from records.cli.output import talk, wrapped
from records.cli.prompts import LeftError, ask, choose, moment, yes
from records.cli.rescue import tell_kept

if TYPE_CHECKING:
    from records.bootstrap import Application
    from records.domain.place import Site, Zone
    from records.domain.product import Product
    from records.services.ports import Json, StoredRevision
    from records.services.suggesting import Suggestions
    from records.services.wanted import Asker

METHODS = ("broadcast", "spot", "band", "perimeter", "edging")
RECENT = 2 * 3600  # seconds; a lawn takes less, common practice


def ask_visit(run: Application) -> tuple[Json, bool]:
    """Ask for a visit.

    Returns:
        The entry document and whether it was left before the end; what was typed before Ctrl-C is in it.
    """
    return _asked(run, {}, Guide.begin)


def ask_again(run: Application, document: Json) -> tuple[Json, bool]:
    """Go through the questions of an entry again; what it says already is what Enter stands for."""
    return _asked(run, document, Guide.review)


def _asked(run: Application, document: Json, go: Callable[[Guide], None]) -> tuple[Json, bool]:
    from records.services.suggesting import Suggestions

    guide = Guide(Suggestions(run.book(), run.clock), _tidy(document))
    try:
        go(guide)
    except (LeftError, KeyboardInterrupt):  # Ctrl-C may also come between two questions
        if guide.document:
            with suppress(OSError):  # the window may be gone
                talk("\nleft before the end; what was typed is kept")
        return guide.document, True
    except Exception:
        tell_kept(guide.document, "close")
        raise
    return guide.document, False


def confirm(findings: list[dict[str, str]]) -> list[str]:
    """Ask about each question of a held entry; return the codes that were confirmed."""
    confirmed = []
    for code in dict.fromkeys(f["code"] for f in findings if f["severity"] == "ask"):
        for finding in (f for f in findings if f["code"] == code and f["severity"] == "ask"):
            talk(wrapped(finding["message"], "    ", "  ? "))
        try:
            if yes(_states(code, findings)):
                confirmed.append(code)
        except LeftError:
            talk("")
            break
    return confirmed


def _states(code: str, findings: list[dict[str, str]]) -> str:
    """Return the question of a code; where "right as typed" would say the contrary, what a yes states."""
    if code != "not-notified":
        return "is that right as typed?"
    from records.rules.advance_checks import untold

    names = [name for f in findings if f["code"] == code and (name := untold(f["message"]))]
    who = " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]])) or "they"
    states = f"yes states: {who} {'was' if len(names) == 1 else 'were'} not told as had to be, and the work was done"
    talk(wrapped(f"{states} all the same; that stays on the record. If told, say no and log it first.", "    ", "  "))
    return "was it so?"


def _tidy(document: Json) -> Json:
    """Return a copy whose groups are groups and whose lists are lists; the entry as it was stays in the book."""

    def groups(value: object) -> list[Json]:
        return [dict(one) for one in value if isinstance(one, dict)] if isinstance(value, list) else []

    tidy = dict(document)
    if not isinstance(tidy.get("weather"), dict):
        tidy.pop("weather", None)
    if "treatments" in tidy:
        tidy["treatments"] = groups(tidy["treatments"])
        for treatment in tidy["treatments"]:
            if "products" in treatment:
                treatment["products"] = groups(treatment["products"])
    return tidy


def typed_text(content: Json, key: str) -> str | None:
    """Return what was typed before, as a default."""
    value = content.get(key)
    return value if isinstance(value, str) and value else None


def put(content: Json, key: str, value: object) -> None:
    """Keep an answer; no answer takes the key out."""
    content.pop(key, None)
    if value:
        content[key] = value


class Guide:
    """One close-out by questions; every answer is in the document as soon as it is given."""

    def __init__(self, known: Suggestions, document: Json) -> None:
        """Begin with what the book knows and what was typed before."""
        self.known, self.document = known, document
        self.site = known.site(document.get("site"))
        self.stop: StoredRevision | None = None
        self.here: StoredRevision | None = None
        self._look_back()

    def begin(self) -> None:
        """Ask everything in the order of a stop, then show it."""
        talk("  Enter takes what is in [brackets]; Ctrl-C keeps what is typed for later")
        for part in self._parts().values():
            part()
        self.review()

    def review(self) -> None:
        """Show the entry and ask anew for what is not right, until nothing is."""
        parts = self._parts()
        if self.site is None:
            self.ask_site()
        while True:
            self._recap()
            words = list(parts)
            talk(f"  to change something: {', '.join(words)}")
            name = ask(
                "all right?",
                None,
                partial(_one_of, words=words),
                optional=True,
                enter="close the visit",
            )
            if not name:
                return
            parts[name]()

    def _parts(self) -> dict[str, Callable[[], None]]:
        return {
            "site": self.ask_site,
            "people": self.ask_people,
            "times": self.ask_times,
            "weather": self.ask_weather,
            "treatments": self.ask_treatments,
            "remarks": self.ask_remarks,
        }

    def _look_back(self) -> None:
        """Find the last visit here, and the person's last stop of the day."""
        person = self.known.person(self.document.get("applicator"))
        if self.site is not None:
            self.here = self.known.last_here(self.site)
            self.stop = None if person is None else self.known.last_stop(person, self.site)

    def ask_site(self) -> None:
        """Ask where; say who lives there, what to mind, and what was done last."""
        known = self.known
        options = [(s.id, f"{s.address}, {s.city}; {known.customers.get(s.customer, '')}") for s in known.sites]
        usual = typed_text(self.document, "site")
        if usual is None and (planned := known.next_stop()) is not None:
            why = f", for {planned.why}" if planned.why else ""
            talk(wrapped(f"next on today's list: {planned.address}{why}", "    ", "  "))
            usual = planned.site
        key = choose("site (a part of the address or the customer's name)", options, usual)
        if self.document.get("site") not in {None, key}:
            self.document.pop("treatments", None)
            talk("  another site: its zones are asked for anew; change treatments")
        self.document["site"] = key
        self.site = self.known.site(key)
        self._look_back()
        if self.site is not None:
            self._arrive(self.site)
        if self.here is not None:
            body = self.here.body
            products = dict.fromkeys(line["product"]["name"] for t in body["treatments"] for line in t["applications"])
            targets = dict.fromkeys(target for t in body["treatments"] for target in t["targets"])
            person = (body["applicator"] or {}).get("name", "not recorded")
            what = f"{', '.join(products)} against {', '.join(targets)}"
            worked = known.worked(self.here)
            result = "" if worked.endswith("not rated") else f"; {worked}"
            talk(wrapped(f"last here: {body['date']} by {person}, {what}{result or '; not rated'}", "    ", "  "))

    def _arrive(self, site: Site) -> None:
        """Say by what the place is known and what to mind there; ask for the meter where its number is known."""
        for word, text in (("is this the place", site.landmark), ("note", site.notes)):
            if text:
                talk(wrapped(f"{word}: {text}", "    ", "  "))
        if site.meter:
            put(self.document, "meter", ask("meter number here", typed_text(self.document, "meter"), optional=True))

    def ask_people(self) -> None:
        """Ask who applied and, where the licence wants it, who supervised."""
        people = [
            (p.id, ", ".join([p.name, *dict.fromkeys(licence.kind.value for licence in p.licences)]))
            for p in self.known.people
        ]
        # The person never comes from the last record: SWATHBOOK_PERSON says who works on this machine.
        usual = typed_text(self.document, "applicator") or os.environ.get("SWATHBOOK_PERSON")
        self.document["applicator"] = choose("who applied", people, usual)
        self._look_back()
        person = self.known.person(self.document["applicator"])
        is_needed = person is not None and self.known.is_supervised(person, self.site)
        is_certified = person is not None and any(one.kind.value == "certified" for one in person.licences)
        if person is None or (is_certified and not is_needed):
            self.document.pop("supervisor", None)
            return
        before = (self.stop.body["supervisor"] or {}).get("id") if self.stop else None
        default = typed_text(self.document, "supervisor") or before
        # Where the licence wants one, that there was none has to be said: it holds the entry, and can be signed for.
        named = choose("supervised by", people, default, optional=True, enter="nobody", is_firm=is_needed)
        put(self.document, "supervisor", named)

    def ask_times(self) -> None:
        """Ask when it began and ended."""
        now = self.now()
        ended = (self.stop.body["finished"] or {}).get("local") if self.stop else None
        if ended:
            talk(f"  your last stop ended {datetime.fromisoformat(ended):%H:%M}; now it is {now:%H:%M}")
        for key in ("started", "finished"):
            # In the evening, now is no hint for when a visit of the morning ended.
            is_near = key == "finished" and self._ago(now) <= RECENT
            before = typed_text(self.document, key) or (f"{now:%H:%M}" if is_near else None)
            # A time alone belongs to the day the work began, which a late entry names with the start.
            of = self.started() or now if key == "finished" else now
            self.document[key] = ask(f"{key} (like 9:10)", before, partial(self._time, key=key, now=of))

    def _time(self, text: str, key: str, now: datetime) -> str:
        """Return a time of the visit.

        Raises:
            ValueError: no time, or an end before the start.
        """
        read = moment(text, now)
        started = self.started()
        if key == "finished" and started is not None:
            ended = datetime.fromisoformat(read)
            if (ended if ended.tzinfo else ended.replace(tzinfo=started.tzinfo)) < started:
                after = f"{started + timedelta(days=1):%Y-%m-%d}T00:10"
                raise ValueError(f"that is before the start, {started:%H:%M}; past midnight write the day too: {after}")
        return read

    def _ago(self, now: datetime) -> float:
        """Return the seconds since the visit began; where that cannot be told, it began long ago."""
        started = self.started()
        seconds = (now - started).total_seconds() if started else -1
        return seconds if seconds >= 0 else float("inf")

    def now(self) -> datetime:
        """Return the present moment at the site."""
        assert self.site is not None  # noqa: S101 - the site is asked for first
        return self.known.now(self.site)

    def started(self) -> datetime | None:
        """Return when the visit began, where that can be told."""
        try:
            started = datetime.fromisoformat(self.document.get("started", ""))
        except (TypeError, ValueError):
            return None
        return started if started.tzinfo else started.replace(tzinfo=self.now().tzinfo)

    def ask_weather(self) -> None:
        """Ask for the weather, or take that of the last stop."""
        from records.cli.guided_weather import ask_weather

        ask_weather(self)

    def asker_of(self, treatment: Json, key: str, example: str, instead: Json | None = None) -> Asker | None:
        """Return who asks for a part of a treatment that nothing else in the entry answers, nor what may come later."""

        def entry(content: Json) -> Json:
            treatments = [content if one is treatment else one for one in self.document.get("treatments", [])]
            return {**self.document, "treatments": treatments}

        without = {name: value for name, value in treatment.items() if name != key}
        later = entry({**without, **instead}) if instead else None
        return self.known.asker_of(entry(without), entry({**without, key: example}), later)

    def ask_treatments(self) -> None:
        """Ask for one treatment after the other."""
        if self.site is None:
            return
        from records.cli.guided_treatment import ask_treatment
        from records.cli.guided_weather import ask_passed_over

        treatments = self.document.setdefault("treatments", [])
        number = 0
        while True:
            if number == len(treatments):
                treatments.append({})
            elif number:
                talk(f"  treatment {number + 1}: Enter keeps what it says")
            ask_treatment(self, treatments[number])
            number += 1
            if not yes("another treatment at this stop?", default=number < len(treatments)):
                del treatments[number:]
                break
        ask_passed_over(self)

    def ask_remarks(self) -> None:
        """Ask for what closes a visit."""
        from records.services.finding import read_day

        def day(text: str) -> str | None:
            found = read_day(text)
            return found.isoformat() if found else None

        follow_up = ask("follow-up day (2026-05-28)", typed_text(self.document, "follow_up"), day, optional=True)
        put(self.document, "follow_up", follow_up)
        self._ask_rules()
        self.document["remarks"] = ask("remarks", typed_text(self.document, "remarks"), optional=True)

    def _ask_rules(self) -> None:
        """Ask what only some states want on a record; the packs of the site's state say so."""
        asked = self.known.asked_by_rules(self.site)
        for key, question in (
            ("incident", "anything unexpected: spill, drift, injury (none, or what)"),
            ("authorized_by", "who asked for the work"),
            ("permit", "permit for the regulated herbicide, or why none is needed"),
        ):
            if key in asked and (key != "permit" or self.known.uses_regulated(self.document, self.site)):
                told = f"{question}; {asked[key]} asks for it"
                put(self.document, key, ask(told, typed_text(self.document, key), optional=key == "authorized_by"))

    def _name(self, role: str) -> str:
        key = self.document.get(role)
        person = self.known.person(key)
        return person.name if person else str(key or "?")

    def _recap(self) -> None:
        """Show what is about to be closed."""
        from records.cli.guided_treatment import area_words
        from records.cli.guided_weather import weather_words

        document, site = self.document, self.site
        times = [str(document.get(key) or "?").replace("T", " ") for key in ("started", "finished")]
        under = f" under {self._name('supervisor')}" if document.get("supervisor") else ""
        talk("")
        talk(wrapped(f"{site.address}, {site.city} ({site.id})" if site else "no site", "    ", "  "))
        talk(wrapped(f"{self._name('applicator')}{under}, {times[0]} to {times[1][-5:]}", "    ", "  "))
        for words in weather_words(document.get("weather"), (self.started() or self.now()) if site else None):
            talk(wrapped(words, "    ", "  "))
        for number, treatment in enumerate(document.get("treatments", []), 1):
            lines = [
                f"{line.get('product', '?')} {line.get('rate') or line.get('amount') or '?'}"
                for line in treatment.get("products") or []
            ]
            what = ", ".join(lines) or f"mix {treatment.get('mix', '?')}"
            where = ", ".join(map(str, treatment.get("zones") or ["?"]))
            area = area_words(self, treatment)
            targets = ", ".join(map(str, treatment.get("targets") or ["?"]))
            spray = f" in {treatment['spray']}" if treatment.get("spray") else ""
            words = f"{number}. {where}: {treatment.get('method', '?')}, {area}, against {targets}: {what}{spray}"
            talk(wrapped(words, "     ", "  "))


def with_unit(parse: Callable[[object], Any], unit: str) -> Callable[[str], str]:
    """Return a check that takes a bare number for the unit that the question names, and says so."""

    def read(text: str) -> str:
        plain = text.strip()
        bare = plain.isascii() and plain.lstrip("-").replace(".", "", 1).isdigit()
        kept = f"{plain} {unit}" if bare else plain
        parse(kept)
        if bare:
            talk(f"  {kept}")
        return kept

    return read


def _one_of(text: str, words: list[str]) -> str:
    """Return the word that a few letters begin."""
    found = [word for word in words if word.startswith(text.lower())]
    if len(found) != 1:
        raise ValueError(f"one of: {', '.join(words)}; Enter when all is right")
    return found[0]


def zones_of(site: Site, text: str) -> list[Zone]:
    """Return the zones that ids or numbers name, or every zone of a kind (`turf`), or `all`.

    Raises:
        ValueError: no such zone.
    """
    found: dict[str, Zone] = {}
    for name in text.replace(",", " ").split():
        zone = site.zone(name)
        same = [one for one in site.zones if name.lower() in {"all", one.kind}]
        if zone is None and name.isascii() and name.isdigit() and 0 < int(name[:6]) <= len(site.zones):
            zone = site.zones[int(name) - 1]
        if zone is None and not same:
            raise ValueError(f"{site.id} has no zone {name[:40]!r}; it has {', '.join(z.id for z in site.zones)}")
        found.update({one.id: one for one in ([zone] if zone else same)})
    if not found:
        raise ValueError("name a zone")
    return list(found.values())


def product_words(product: Product) -> str:
    """Return what tells one product from another."""
    number = product.registration or product.exemption or "no number"
    return f"{product.name} ({number}){', RESTRICTED USE' if product.restricted_use else ''}"
