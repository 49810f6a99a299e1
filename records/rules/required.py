"""What has to be on every record: the common list, used until a jurisdiction's own pack says more.

The list is the union of what the state and federal texts ask for most: 40 CFR 171.303(b)(7)(vi) for restricted-use
products, Minnesota Statutes 18B.37 subd. 2 (temperature, wind speed and direction), Ohio OAC 901:5-11-10 (start and
end time), and 4 TAC 7.33 (target). Finishing the record on the day itself is Wisconsin's rule (ATCP 29.21).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.domain.visit import Line, Treatment, Visit
    from records.rules.context import Context

PACK = {"id": "common", "version": "1"}
SOURCE = "common record list, version 1"


def _missing(at: str, message: str) -> Finding:
    return Finding(Code.MISSING, Severity.STOP, at, message, source=SOURCE)


def check_required(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Say what the record lacks."""
    if visit.site is None:
        yield _missing("site", "the site is missing; name it by its id")
    if visit.started is None:
        yield _missing("started", "the date and start time are missing; write them like 2026-05-14T09:10")
    if visit.finished is None:
        yield _missing("finished", "the end time is missing; write it like 2026-05-14T09:32")
    if visit.applicator is None:
        yield _missing("applicator", "who applied is missing; name the person by id")
    yield from _weather(visit)
    if not visit.treatments:
        yield _missing("treatments", "no treatment is recorded; a visit has at least one")
    for treatment in visit.treatments:
        yield from _treatment(treatment)


def _weather(visit: Visit) -> Iterator[Finding]:
    stated = dict(visit.weather.not_measured)
    for name, value, words, example in (
        ("wind_speed", visit.weather.wind_speed, "the wind speed", "6 mph, or 0 mph when calm"),
        ("wind_from", visit.weather.wind_from, "the direction the wind comes FROM", "NW, or calm"),
        ("temperature", visit.weather.temperature, "the air temperature", "71 degF"),
    ):
        if value is not None:
            continue
        if name in stated:
            yield Finding(
                Code.MISSING,
                Severity.ASK,
                f"weather.{name}",
                f"{words} was not measured ({stated[name]}); the record will show that",
                source=SOURCE,
            )
        else:
            yield _missing(
                f"weather.{name}", f"{words} is missing; write it like {example}, or say under not_measured why not"
            )


def _treatment(treatment: Treatment) -> Iterator[Finding]:
    at = treatment.at
    if not treatment.zones:
        yield _missing(f"{at}.zones", "where on the property is missing; name the zones")
    if not treatment.method:
        yield _missing(f"{at}.method", "the method is missing; write broadcast, spot ...")
    if treatment.area is None and not (treatment.is_spot and treatment.extent):
        other = "; for spot work a description under extent will do" if treatment.is_spot else ""
        yield _missing(f"{at}.area", f"the treated area is missing; write it like 4,200 sq ft{other}")
    if not treatment.lines:
        yield _missing(f"{at}.products", "no product is recorded; a treatment has at least one, or a mix and its spray")
    for line in treatment.lines:
        yield from _line(line, treatment)


def _line(line: Line, treatment: Treatment) -> Iterator[Finding]:
    product = line.product
    if product.is_pesticide and not line.targets:
        yield _missing(f"{treatment.at}.targets", f"what {product.name} was used against is missing; name the weed")
    if line.amount is not None:
        if line.rate is None and treatment.area is None and treatment.spray is None and product.is_pesticide:
            message = f"the rate of {product.name} follows from neither area nor spray; write rate, area or spray"
            yield _missing(f"{line.at}.rate", message)
        return
    if line.rate is None:
        yield _missing(f"{line.at}.rate", f"neither rate nor amount of {product.name} is recorded; write one of them")
    else:
        need = "the spray put out" if line.rate.per == "spray" else "the treated area"
        yield _missing(
            f"{line.at}.amount",
            f"the amount of {product.name} does not follow from {line.rate} without {need}; write either",
        )


def check_registration(visit: Visit, _context: Context) -> Iterator[Finding]:
    """Say where a pesticide carries neither a registration number nor an exemption."""
    for treatment in visit.treatments:
        for line in treatment.lines:
            product = line.product
            if product.is_pesticide and not product.registration and not product.exemption:
                yield _missing(
                    f"{line.at}.product", f"{product.name} has no registration number; load it with its number"
                )
