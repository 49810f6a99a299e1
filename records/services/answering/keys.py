"""The texts that a template of answers has to hold, with the places that each may use."""

from __future__ import annotations

import re

_KEYS = """
document.title document.subtitle(date,address) document.neighbour_title document.neighbour_subtitle(date,address)
document.subject document.continued(firm,title) document.page(page,pages) document.serial(serial)
question.what question.keep_off question.who question.safety question.care question.results question.again
question.drift question.where question.next question.earlier
question.near_what question.near_keep_off question.near_drift question.near_safety question.near_label
line.when(date,times) line.product(identity,actives) line.amount(rate,amount) line.near_product(identity,actives)
line.near_deviation(phone) line.person(name,licence) line.licence(kind,state,first,last) line.licence_held
line.licence_lapsed(phone) line.licence_none line.supervised line.from_english line.english
line.former line.deviation line.broken(text) line.limit(limit,found) line.signed(person,phone)
line.corrected(date) line.changed(what,before,after)
line.signal line.care_none(phone) line.care_unknown(phone) line.results_unknown(phone)
line.usual_first(words) line.usual_dead(words) line.usual line.usual_pre line.looked(date,control,target)
line.again_from(product,where,date) line.again_now(product,where) line.again_never(product,where,phone)
line.again_silent(product,where,phone) line.again_together(date) line.again_ceiling line.again_law
line.again_interval(days) line.again_unknown(product,phone) line.again_none line.promised(date) line.promised_none
line.free(phone) line.wind line.toward(point) line.temperature line.measured(moment) line.drift_unknown(phone)
line.gust(speed) line.incident(phone) line.damage(phone) line.where_unknown
line.keep_off(words) line.place(area) line.next_ask(firm,phone) line.given_paper(moment) line.given_email(moment)
line.given_none(phone)
line.sign_up(moment) line.sign_down(moment) line.sign_none line.earlier(products,targets,where) line.against(targets)
line.for_nothing line.fed line.near_firm(firm,address,phone,licence) line.near_label(firm,phone)
line.near_caution line.near_caution_day
line.no_time line.amount_alone(rate,amount)
"""
ANSWER_KEYS = {
    found[1]: frozenset(filter(None, (found[2] or "").split(",")))
    for found in re.finditer(r"([a-z_]+\.[a-z_0-9]+)(?:\(([a-z_,]+)\))?", _KEYS)
}
ANSWER_LISTS: dict[str, int | None] = {}
