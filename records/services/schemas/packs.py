"""The JSON Schema of a rule pack, made from the words that packs are written in."""

from __future__ import annotations

from typing import Any

from records.domain.nutrients import NUTRIENTS
from records.domain.states import STATES
from records.rules.fertilizer import ALLOWED, GROUNDS, PER, PRODUCTS, STAGES, WHO
from records.rules.fertilizer_reading import HELD, SEASONS
from records.rules.fields import CONDITIONS, FIELDS, NOTICE_CONTENT
from records.rules.pack_reading import LAYOUTS, MOMENTS, PACK_PRODUCTS, STARTS

Json = dict[str, Any]

_TEXT: Json = {"type": "string", "minLength": 1, "maxLength": 4000}
_SPAN: Json = {
    "type": "string",
    "pattern": "^(same day|[0-9]{1,3} (hour|day|working day|business day)s?)$",
    "description": "Such as same day, 24 hours, 5 days, 2 working days.",
}
_DAY: Json = {"type": "string", "pattern": "^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$"}
_SOURCED: Json = {
    "source": {"type": "string", "description": "Key of the sources table where the fact stands."},
    "status": {
        "enum": ["verified", "secondary", "memory"],
        "description": "Only where the fact is known less well than its source.",
    },
    "words": {**_TEXT, "description": "What the rule says, in plain words."},
}


def _object(required: tuple[str, ...], **properties: Json) -> Json:
    return {"type": "object", "additionalProperties": False, "required": list(required), "properties": properties}


def _fact(required: tuple[str, ...], **properties: Json) -> Json:
    return _object((*required, "source"), **properties, **_SOURCED)


def _list(item: Json, description: str) -> Json:
    return {"type": "array", "items": item, "description": description}


def _words(known: Any) -> Json:  # noqa: ANN401 - a table of words
    return {"type": "array", "items": {"enum": list(known)}}


_MARK: Json = {"type": "string", "pattern": "^(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$", "description": "Month-day."}
_AMOUNT: Json = {"type": "string", "maxLength": 80, "description": "Such as 0.9 lb/1000 sq ft, 15 ft, 20 %."}


def _fertilizer() -> Json:
    """Return the part about fertilizer on turf."""
    held = _words(HELD)
    days: Json = {"from": _MARK, "to": _MARK}
    return _object(
        (),
        limits=_list(
            _fact(
                ("nutrient", "per", "most"),
                nutrient={"enum": list(NUTRIENTS)},
                per={"enum": list(PER)},
                most=_AMOUNT,
                slow_least={**_AMOUNT, "description": "Least share of the nitrogen that is slow-release; asks."},
                slow_below={**_AMOUNT, "description": "Only for products with a smaller slow-release share."},
                products=_words(PRODUCTS),
                turf={"enum": list(SEASONS)},
                advice={"type": "boolean", "description": "Good practice, not law: noted."},
                ask={**_TEXT, "description": "Above it this has to be so, which nothing here can check: asked."},
                **days,
            ),
            "The most of a nutrient at one time, or in a calendar year; P is the element, P2O5 its oxide.",
        ),
        phosphorus=_list(
            _fact(
                (),
                allowed=_words(ALLOWED),
                above={**_AMOUNT, "description": "Per cent of P2O5 that is no phosphorus fertilizer yet."},
                test_years={"type": "integer", "minimum": 1, "maximum": 50},
            ),
            "Phosphorus only where something lets it.",
        ),
        blackout=_list(
            _fact(
                ("from", "to", "for"),
                **days,
                **{"for": {"enum": list(WHO)}},
                nutrients=held,
                above={**_AMOUNT, "description": "Only for more nitrogen than this at one time."},
            ),
            "Days of every year, both ends counted, on which no fertilizer is put on turf.",
        ),
        ground=_list(_fact(("states",), states=_words(GROUNDS), nutrients=held), "Ground that may not be fertilized."),
        setback=_list(
            _fact(
                ("distance",),
                distance=_AMOUNT,
                smaller={**_AMOUNT, "description": "With a drop spreader, a deflector or targeted liquid."},
                nutrients=held,
                advice={"type": "boolean", "description": "Good practice, not law: noted."},
                unless={**_TEXT, "description": "What the law excepts, which only the person there can tell: asked."},
                stages=_words(STAGES),
            ),
            "How far fertilizer stays from water.",
        ),
        hard=_list(_fact(("words",)), "What the law says of fertilizer on pavement."),
    )


def pack_schema() -> Json:
    """Return the schema of one pack, as a TOML file of its own or under [[packs]] of a loaded document."""
    field = {"enum": list(FIELDS)}
    asked = _fact(
        (),
        field=field,
        any_of={
            "type": "array",
            "minItems": 1,
            "items": {"type": "array", "minItems": 1, "items": field},
            "description": "Alternatives in place of field: one of them, whole, is enough.",
        },
        when=_words(CONDITIONS),
        unless=_words(CONDITIONS),
        if_applicable={"type": "boolean", "description": "A reason under not_measured is answer enough."},
    )
    asked["oneOf"] = [{"required": ["field"]}, {"required": ["any_of"]}]
    clock = _fact(("within",), within=_SPAN)
    source = _object(
        ("citation",),
        citation=_TEXT,
        url={"type": "string", "pattern": "^https?://"},
        seen={**_DAY, "description": "The day the text, or an archived copy of it, was last read."},
        status={"enum": ["verified", "secondary", "memory", "firm"]},
        edition={**_TEXT, "description": "How old the text read is."},
    )
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Swathbook rule pack",
        "description": "What one jurisdiction asks of one kind of licence, as one dated version; every fact names its "
        "source. Verified and secondary facts stop a visit, one from memory asks; a firm's own pack binds.",
        **_object(
            ("id", "version", "title", "jurisdiction", "sources"),
            id={"type": "string", "pattern": "^[a-z0-9][a-z0-9-]{0,63}$"},
            version={"type": "string", "minLength": 1, "maxLength": 20},
            title=_TEXT,
            jurisdiction={"enum": ["US", *(f"US-{state}" for state in sorted(STATES))]},
            licence={**_TEXT, "description": "Which licence holders it is for, in words."},
            products={"enum": list(PACK_PRODUCTS)},
            effective_from=_DAY,
            effective_to=_DAY,
            sources={"type": "object", "minProperties": 1, "additionalProperties": source},
            fields=_list(asked, "In the rule's own order."),
            complete={**clock, "description": "Complete the record within."},
            hand_over={**clock, "description": "Hand the record to the firm within."},
            retention=_list(
                _fact(
                    ("products", "years", "from"),
                    products={"type": "string", "pattern": "^(all|restricted|other|active:.+)$"},
                    years={"type": "integer", "minimum": 1, "maximum": 100},
                    **{"from": {"enum": list(STARTS)}},
                ),
                "How long a record is kept, and from when.",
            ),
            production=_list(
                _fact(("to", "asked"), to={"enum": ["agency", "medical", "customer"]}, asked=_TEXT, within=_TEXT),
                "How fast and to whom it is shown.",
            ),
            copies=_list(
                _fact(
                    ("moment",),
                    moment={"enum": list(MOMENTS)},
                    within=_SPAN,
                    paper={"type": "boolean"},
                    electronic={"enum": ["yes", "consent", "no", ""]},
                    content=_words(NOTICE_CONTENT),
                ),
                "What the customer has to get.",
            ),
            reports=_list(
                _fact(
                    ("id", "title", "period", "due", "to"),
                    id={"type": "string"},
                    title=_TEXT,
                    period={"enum": ["year", "month"]},
                    due={"type": "string", "description": "02-01 of the next year, or 10 of the next month."},
                    to=_TEXT,
                    nil={"type": "boolean", "description": "Due even when nothing was applied."},
                    layout={"enum": [*LAYOUTS, ""]},
                ),
                "Reports that are due regularly.",
            ),
            signs=_list(
                _fact(
                    (),
                    size=_TEXT,
                    look=_TEXT,
                    wording=_TEXT,
                    put_up={"enum": ["before", "start", "after"]},
                    stays=_TEXT,
                    hours={"type": "integer", "minimum": 1, "maximum": 1000},
                ),
                "What a lawn sign has to be.",
            ),
            advance=_list(
                _fact(("who",), who=_TEXT, lead=_SPAN, written={"type": "boolean"}),
                "Who is told before an application; written: a call does not count.",
            ),
            fertilizer={**_fertilizer(), "description": "What the law says about fertilizer on turf."},
            duties=_list(
                _object(("text", "source"), text=_TEXT, source=_SOURCED["source"], status=_SOURCED["status"]),
                "What else the rule asks; told, not checked.",
            ),
        ),
    }
