"""Products, read from a loaded document; their labels are read next door."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.formulations import FORMULATIONS
from records.domain.loaded import LINE, NAME, Table, open_document, shown, suggestion
from records.domain.numerals import QuantityError
from records.domain.product import Active, Content, Product, ProductKind
from records.domain.quantities import Form, Per, Rate, parse_amount, parse_rate
from records.domain.registration import RegistrationError, read_registration
from records.domain.states import STATES
from records.services.reading.analysis import read_analysis
from records.services.reading.labels import read_label
from records.units import factor

if TYPE_CHECKING:
    from records.domain.loaded import Problem

FORMS = (Form.LIQUID, Form.DRY, Form.GRANULE)
SIGNAL_WORDS = ("", "CAUTION", "WARNING", "DANGER", "DANGER-POISON")  # 40 CFR 156.64; none is needed in category IV
_PER_WEIGHT = re.compile(r"(.+?)\s*(?:/|\bper\b)\s*(kg|lb)", re.IGNORECASE)
_PERCENT = re.compile(
    r"(\d{1,3}(?:\.\d{1,9})?|\.\d{1,9})\s*(?:%|per\s?cent)\s*(?:w\s*/\s*w|by\s+w(?:eigh)?t\.?)?",
    re.IGNORECASE | re.ASCII,
)
_CONTENT_EXAMPLE = "4 lb/gal, 480 g/L or 75 %"


def read_density(text: str) -> Fraction:
    """Return a density in lb per fl oz."""
    return _per_volume(text, "density", "9.2 lb/gal or 1.1 kg/L")


def _per_volume(text: str, what: str, example: str) -> Fraction:
    try:
        rate: Rate | None = parse_rate(text, Form.DRY, what)
    except QuantityError:
        rate = None
    if rate is None or rate.per is not Per.SPRAY or rate.value == 0:
        raise QuantityError(f"{what} {shown(text)} is no weight per volume; write it like {example}")
    return rate.base


def read_content(text: str, form: Form, density: Fraction | None) -> Content:
    """Return how much active a product holds, in lb per base unit of the product where that follows.

    Raises:
        QuantityError: not a content, or one that the form cannot have.
    """
    example = "4 lb/gal or 480 g/L" if form is Form.LIQUID else "75 %"
    percent = _PERCENT.fullmatch(text)
    by_weight = _PER_WEIGHT.fullmatch(text)
    if percent or by_weight:
        if percent:
            part = Fraction(f"0{percent[1]}") / 100
        else:
            assert by_weight is not None  # noqa: S101 - one of the two is
            part = parse_amount(by_weight[1], Form.DRY).base / factor(by_weight[2].lower())
        if not 0 < part <= 1:
            raise QuantityError(f"content {shown(text)} is not more than nothing and at most the whole")
        if form is Form.LIQUID:
            return Content(text, None if density is None else part * density)
        return Content(text, part)
    per_base = _per_volume(text, "content", _CONTENT_EXAMPLE)
    if form is not Form.LIQUID:
        raise QuantityError(
            f"content {shown(text)} is per volume, but the product is {form.value}; write it like {example}"
        )
    return Content(text, per_base)


def _active(table: Table, form: Form, density: Fraction | None) -> Active | None:
    name = table.text("name", required=True, cap=NAME, hint="the common name, as the label's ingredient list has it")
    content = table.amount("content", lambda text: read_content(text, form, density), _CONTENT_EXAMPLE, required=True)
    basis = table.choice("as", ("ai", "ae"))
    group = table.text("group", cap=20)
    table.finish()
    # A content with a problem does not hide the name: limits further down refer to it.
    return Active(name.lower(), content or Content("", None), basis or "ai", group, name) if name else None


def _actives(table: Table, form: Form, density: Fraction | None) -> tuple[Active, ...]:
    found: dict[str, Active] = {}
    for one in table.tables("actives"):
        active = _active(one, form, density)
        if active is None:
            continue
        if active.name in found:
            one.problem("name", f"{shown(active.name)} is listed twice; give each active once")
        found[active.name] = active
    return tuple(found.values())


def _kind(table: Table) -> ProductKind:
    """Return what the law takes the product for: as stated, else as its numbers tell."""
    stated = table.choice("kind", [kind.value for kind in ProductKind])
    if stated:
        return ProductKind(stated)
    if table.has("exemption"):
        return ProductKind.MINIMUM_RISK
    if not table.has("registration") and not table.raw("actives"):
        return ProductKind.FERTILIZER if table.has("analysis") else ProductKind.ADJUVANT
    return ProductKind.PESTICIDE


def _registration(table: Table, kind: ProductKind) -> str:
    """Return the registration number, normalised; required for a pesticide, not for what has none."""
    value = table.raw("registration")
    if value is None:
        if kind is ProductKind.PESTICIDE:
            table.missing(
                "registration",
                "a pesticide has one, such as 99999-41; for a minimum-risk product state its exemption instead",
            )
        return ""
    if kind in {ProductKind.FERTILIZER, ProductKind.MINIMUM_RISK}:
        table.problem(
            "registration", f"does not go with kind {kind.value}, which has none; leave it out or change kind"
        )
        return ""
    text = table.text("registration", cap=NAME)
    if not text:
        return ""
    try:
        return read_registration(text).text
    except RegistrationError as error:
        table.problem("registration", str(error))
        return ""


def _exemption(table: Table, kind: ProductKind) -> str:
    wanted = kind is ProductKind.MINIMUM_RISK
    text = table.text("exemption", required=wanted, hint="such as FIFRA 25(b), 40 CFR 152.25(f)")
    if text and not wanted:
        table.problem("exemption", f"does not go with kind {kind.value}; leave it out, or use kind minimum-risk")
        return ""
    return text


def _signal_word(table: Table) -> str:
    value = table.raw("signal_word")
    if value is None or value == "":
        return ""
    text = re.sub(r"\s*[-/ ]\s*", "-", table.text("signal_word", cap=40).upper())
    if text not in SIGNAL_WORDS:
        words = ", ".join(SIGNAL_WORDS[1:])
        table.problem(
            "signal_word", f'{shown(text)} is not a signal word; one of: {words}, or "" where the label has none'
        )
        return ""
    return text


def _density_of(table: Table, form: Form) -> Fraction | None:
    density = table.amount("density", read_density, "9.2 lb/gal")
    if density is not None and form is not Form.LIQUID:
        table.problem("density", f"does not go with form {form.value}; only a liquid needs one")
    return density


def _type(table: Table, kind: ProductKind) -> str:
    """Return the word for notices; a weed killer's where none is given."""
    default = "herbicide" if kind in {ProductKind.PESTICIDE, ProductKind.MINIMUM_RISK} else kind.value
    return table.text("type", cap=60).lower() or default


def _regulated(table: Table) -> tuple[str, ...]:
    """Return the states that regulate a product beyond its label."""
    states = tuple(state.upper() for state in table.texts("regulated", cap=NAME))
    for state in states:
        if state not in STATES:
            table.problem("regulated", f"{shown(state)} is no state; write its two letters, such as TX")
    return states


def _formulation(table: Table) -> str:
    """Return the formulation kind, as its letters are printed behind the name; "" where it is not given."""
    text = table.text("formulation", cap=NAME).upper()
    if text and text not in FORMULATIONS:
        hint = suggestion(text, FORMULATIONS) or f"one of: {', '.join(FORMULATIONS)}"
        table.problem("formulation", f"{shown(text)} is not known; {hint}; leave it out where the label prints none")
        return ""
    return text


def read_product(doc: object, problems: list[Problem], where: str = "") -> Product | None:
    """Read what is bought, with its label.

    Args:
        doc: the table as loaded.
        problems: every problem found is added here.
        where: path of the table in its file, for messages.

    Returns:
        The product, or None when there was any problem.
    """
    before = len(problems)
    table = open_document(doc, problems, where)
    if table is None:
        return None
    key, name = table.identifier(), table.text("name", required=True, cap=NAME)
    kind = _kind(table)
    stated = table.choice("form", [form.value for form in FORMS], required=True)
    form = Form(stated) if stated else Form.UNKNOWN
    registration, exemption = _registration(table, kind), _exemption(table, kind)
    density = _density_of(table, form) if stated else table.amount("density", read_density, "9.2 lb/gal")
    # Without a form the units below cannot be judged: they are read as what they say, the missing form is the problem.
    actives = _actives(table, form if stated else Form.LIQUID, density)
    if kind in {ProductKind.PESTICIDE, ProductKind.MINIMUM_RISK} and not table.raw("actives"):
        table.missing("actives", 'give each, such as {name = "...", content = "4 lb/gal", as = "ae", group = "4"}')
    kind_of_use, signal_word, restricted = _type(table, kind), _signal_word(table), table.flag("restricted_use")
    names = tuple(active.name for active in actives)
    label = read_label(table.table("label"), kind, form, names)
    maker, supplier = table.text("maker", cap=NAME), table.text("supplier", cap=NAME)
    regulated, formulation, sds = _regulated(table), _formulation(table), table.text("sds", cap=LINE)
    analysis = read_analysis(table, kind, form, density)
    table.finish()
    if len(problems) != before:
        return None
    return Product(
        id=key,
        name=name,
        kind=kind,
        form=form,
        registration=registration,
        exemption=exemption,
        type=kind_of_use,
        signal_word=signal_word,
        restricted_use=restricted,
        actives=actives,
        label=label,
        maker=maker,
        supplier=supplier,
        regulated=regulated,
        formulation=formulation,
        analysis=analysis,
        sds=sds,
    )
