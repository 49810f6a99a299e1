"""The fields that record rules ask for, the conditions they put, and what notices can hold: the words of a pack."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Level(StrEnum):
    """Which part of a record a field belongs to."""

    VISIT = "visit"
    TREATMENT = "treatment"
    LINE = "line"


@dataclass(frozen=True, slots=True)
class Field:
    """One thing a rule may ask for."""

    key: str
    level: Level
    words: str  # as it stands in "... is missing"
    do: str  # how to put it right
    at: str  # where in the visit document
    meaning: str  # one plain sentence for `why`


def _visit(key: str, words: str, do: str, at: str, meaning: str) -> Field:
    return Field(key, Level.VISIT, words, do, at, meaning)


def _treatment(key: str, words: str, do: str, at: str, meaning: str) -> Field:
    return Field(key, Level.TREATMENT, words, do, at, meaning)


def _line(key: str, words: str, do: str, at: str, meaning: str) -> Field:
    return Field(key, Level.LINE, words, do, at, meaning)


_ALL = (
    _visit("date", "the date", "write the start like 2026-05-14T09:10", "started", "The calendar day of the work."),
    _visit("time", "a time of day", "write the start like 2026-05-14T09:10", "started", "One time, start or end."),
    _visit("start_time", "the start time", "write it like 2026-05-14T09:10", "started", "When the work began."),
    _visit("end_time", "the end time", "write it like 2026-05-14T09:32", "finished", "When the work was completed."),
    _visit(
        "customer_name",
        "the customer's name",
        "load the customer and name it at the site",
        "site",
        "The person the work was done for.",
    ),
    _visit(
        "customer_address",
        "the customer's address",
        "load the customer with an address",
        "site",
        "Where the customer gets mail; not always the treated place.",
    ),
    _visit(
        "customer_phone",
        "the customer's phone number",
        "load the customer with a phone number",
        "site",
        "How the customer can be reached.",
    ),
    _visit(
        "authorized_by",
        "who asked for the work",
        "write a name under authorized_by, or load the customer",
        "authorized_by",
        "Who requested or authorized the work on property that is not the licensee's own.",
    ),
    _visit("site_address", "the treated address", "name the site by its id", "site", "Where the work was done."),
    _visit("city", "the town of the site", "load the site with its city", "site", "The municipality of the site."),
    _visit("county", "the county of the site", "load the site with its county", "site", "The county of the site."),
    _visit("zip", "the ZIP code of the site", "load the site with its ZIP code", "site", "Five digits at least."),
    _visit(
        "applicator_name", "who applied", "name the person by id under applicator", "applicator", "Who did the work."
    ),
    _visit(
        "applicator_licence",
        "the licence number of who applied",
        "load the person's licence",
        "applicator",
        "The number of the certificate, licence or registration of who applied.",
    ),
    _visit(
        "supervisor",
        "the certified person who answered for the work",
        "name that person under supervisor",
        "supervisor",
        "The responsible certified person, where someone else did the work.",
    ),
    _visit("business_name", "the firm's name", "load the firm", "business", "The firm that did the work."),
    _visit("business_address", "the firm's address", "load the firm", "business", "Where the firm is."),
    _visit("business_licence", "the firm's licence number", "load the firm", "business", "The firm's own licence."),
    _visit(
        "wind_speed",
        "the wind speed",
        "write it like 6 mph (0 mph when calm), or say under not_measured why not",
        "weather.wind_speed",
        "How fast the wind blew at the application.",
    ),
    _visit(
        "wind_direction",
        "the direction the wind comes FROM",
        "write it like NW, or calm, or say under not_measured why not",
        "weather.wind_from",
        "Where the wind came from at the application.",
    ),
    _visit(
        "temperature",
        "the air temperature",
        "write it like 71 degF, or say under not_measured why not",
        "weather.temperature",
        "How warm the air was at the application.",
    ),
    _visit(
        "incident",
        "whether anything unexpected happened",
        "write none, or what happened, under incident",
        "incident",
        "Spills, drift, accidents, illness or damage, and what was done; none is an answer.",
    ),
    _visit(
        "insurance",
        "the firm's insurer and the amount insured",
        "load the firm with insurer and insured",
        "business",
        "Who insures the firm's applications, and for how much.",
    ),
    _visit(
        "permit",
        "the permit for a regulated herbicide",
        "write its number under permit, or why none is needed there",
        "permit",
        "The spray permit where a regulated herbicide is used in a regulated county.",
    ),
    _visit(
        "mixing_place",
        "where it was mixed and loaded",
        "write it under mixing_place",
        "mixing_place",
        "Where the spray was mixed and loaded, when not at a licensed place.",
    ),
    _treatment(
        "site_type",
        "what kind of ground was treated",
        "name the zones; each has its kind",
        "zones",
        "Turf, ornamental bed, hardscape ... as labels list sites.",
    ),
    _treatment(
        "area",
        "the treated area",
        "write it like 4,200 sq ft; for spot work a description under extent will do",
        "area",
        "How much ground was treated, with its unit.",
    ),
    _treatment(
        "extent",
        "a practical description of what was treated",
        "write it under extent, such as: 12 spots along the walk",
        "extent",
        "For spot work (method spot), in place of a measured area: what was treated, in words. With neither, equipment "
        "and spray give an area by the newest calibration, marked as estimated.",
    ),
    _treatment("method", "the method", "write broadcast, spot ...", "method", "How it was put out."),
    _treatment("equipment", "the equipment", "name it under equipment", "equipment", "The apparatus, or its type."),
    _treatment(
        "total_mix",
        "how much finished spray was put out",
        "write it under spray, like 8.4 gal",
        "spray",
        "The diluted spray, or the granules, that went onto the ground.",
    ),
    _treatment(
        "purpose",
        "the purpose",
        "write it under purpose, or name the targets",
        "purpose",
        "What the treatment was for, where a rule takes that in place of the target.",
    ),
    _treatment(
        "diluent",
        "what it was diluted with",
        "write it under diluent",
        "diluent",
        "What the product was diluted with, when not water.",
    ),
    _line("product_name", "the product", "name it by its id in the catalogue", "product", "The brand on the label."),
    _line(
        "epa_reg_no",
        "the registration number",
        "load the product with its number",
        "product",
        "The number behind EPA Reg. No. on the label, as printed.",
    ),
    _line(
        "active_ingredient",
        "the active ingredient",
        "load the product with its actives",
        "product",
        "Common name of each active.",
    ),
    _line(
        "active_percent",
        "the content of active ingredient",
        "load the product with the content of its actives",
        "product",
        "How much of each active the product holds.",
    ),
    _line("formulation", "the strength or formulation", "load the product with its form", "product", "Form, strength."),
    _line(
        "analysis",
        "the analysis of the fertilizer",
        "load the product with its analysis, such as 16-4-8",
        "product",
        "Per cent by weight of nitrogen, phosphate and potash, as on the bag.",
    ),
    _line("maker", "who makes it", "load the product with its maker", "product", "The registrant on the label."),
    _line(
        "supplier",
        "who sold it to you",
        "write it under supplier, or load the product with its supplier",
        "supplier",
        "The dealer that the product was bought from.",
    ),
    _line(
        "amount",
        "the amount of undiluted product",
        "write it under amount, or rate and area",
        "amount",
        "How much of the product itself went on, without water.",
    ),
    _line("rate", "the rate", "write it like 1.1 fl oz/1000 sq ft", "rate", "Product for each unit of area or spray."),
    _line(
        "dilution",
        "the dilution",
        "write the spray put out, a rate per gallon, or dilution: undiluted",
        "rate",
        "Product to carrier; undiluted has to be said.",
    ),
    _line(
        "target_pest",
        "what it was used against",
        "name the weed under targets",
        "targets",
        "The weed, insect or disease; plainly for each product.",
    ),
    _line(
        "reentry",
        "when people may go back",
        "write the end time; the label in the book sets the interval",
        "finished",
        "Re-entry day and time, or the label's interval, where the label sets one.",
    ),
)
FIELDS = {field.key: field for field in _ALL}

# Conditions that `when` and `unless` may name, in plain words.
CONDITIONS = {
    "restricted_use": "the product is for restricted use",
    "outdoors": "the work was outdoors",
    "spot": "only spots, edges or single places were treated",
    "broadcast": "the whole ground was treated",
    "diluted": "the product was diluted",
    "undiluted": "the product was put out undiluted",
    "liquid": "a liquid was sprayed",
    "label_reentry": "the label sets a re-entry interval",
    "area_rate": "the label gives the rate per area",
    "site_differs": "the treated address differs from the customer's",
    "not_own_property": "the property is not the firm's own",
    "someone_else_applied": "someone other than the certified person applied",
    "has_registration": "the product has a registration number",
    "other_diluent": "it was diluted with something other than water",
    "regulated_herbicide": "the product is a regulated herbicide in that state",
    "fertilizer": "a product with a fertilizer analysis was put on",
    "spot_under_tenth_acre": "spots of less than 1/10 acre (strictly under 4,356 sq ft) in all were treated",
}

# What a customer's notice can hold; a pack lists what the customer is owed.
NOTICE_CONTENT = {
    "firm_name": "the firm's name",
    "firm_address": "the firm's address",
    "firm_phone": "the firm's phone number",
    "firm_licence": "the firm's licence number",
    "applicator_name": "the applicator's full name",
    "applicator_licence": "the applicator's licence number",
    "customer_name": "the customer's name",
    "service_address": "the treated address",
    "date": "the date",
    "start_time": "the start time",
    "end_time": "the end time",
    "area": "the treated area",
    "where": "where on the property",
    "target": "what it was used against",
    "product_name": "the product's name",
    "registration": "the registration number",
    "active": "the active ingredients",
    "product_type": "the type of product",
    "signal_word": "the signal word",
    "amount": "the amount or the rate and area",
    "rate": "the rate",
    "wind": "wind speed and direction",
    "temperature": "the air temperature",
    "precautions": "the label's precautions for afterwards",
    "reentry": "the label's words on going back",
    "sign_removal": "when the sign may come down",
    "poison_phone": "the poison help number",
    "label_offer": "how to get the label",
    "signature": "a line for the signature",
}
