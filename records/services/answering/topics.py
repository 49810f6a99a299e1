"""Sorts the lines of labels by the questions that they answer."""

from __future__ import annotations

import re

KEEP_OFF, CARE, DRIFT, REST, OFFICE = "keep_off", "care", "drift", "rest", "office"

# Which lines of a label answer which questions, in English and Spanish. A line stands under each that it answers; what
# answers none stands with the keep-off words, but for what is said to whoever applies.
_CARE = re.compile(
    r"\b(?:mow|(?:un)?cut(?!aneous)|water(?!s\b)|irrigat|sprinkler|(?:re|over)?seed|(?:re)?sod\b|clipping|mulch|compost|rak(?:e|ing)\b"
    r"|aerat|dethatch|cort(?:e|ar|ado)\b|pod(?:e|ar)\b|rieg|regar|semill|(?:re)?sembr|(?:re)?siembr|recorte|mantillo|abono|composta)",
    re.IGNORECASE,
)
_WASHING = re.compile(r"\b(?:soap and water|agua y jab[oó]n|rinse with (?:plenty of )?water)", re.IGNORECASE)
_DRIFT = re.compile(
    r"\b(?:drift|vegetable|flower|rose|pond|stream|lake|bee\b|bees\b|pollinat|tree|shrub|garden|deriva|hortaliza|flor(?:es)?\b"
    r"|estanque|abeja|[aá]rbol|arbusto|jard[ií]n|roc[ií]e cerca)",
    re.IGNORECASE,
)
_WALK = re.compile(
    r"\b(?:child|kids?\b|toddler|infant|baby|babies|pets?\b|dogs?\b|cats?\b|pupp|kitten|animals?\b|livestock|graz|horses?\b"
    r"|people|persons?\b|bystander|anyone|family|barefoot|re-?ent(?:er|ry)|play|keep .{0,12}off"
    r"|stay off|niñ|beb[eé]|mascota|perr[oa]|gat[oa]s?\b"
    r"|animal|ganado|caballo|persona|gente|familia|descalz|jueg|jugar|reingres|no pis[ea]|entrar\b|no entre\b)",
    re.IGNORECASE,
)
_OFFICE = re.compile(
    r"\b(?:surfactant|adjuvant|certified applicator|for retail sale|treat only|apply only|tank"
    r"|do not (?:apply|treat|tank|mix|exceed)|nozzle|(?:mark|stain)s? .{0,20}(?:stone|concrete|masonry)"
    r"|surfactante|coadyuvante|aplicador(?:es)? certificad"
    r"|(?:trate|aplique) s[oó]lo|s[oó]lo (?:trate|aplique)"
    r"|no (?:aplique|trate|mezcle)|tanque|boquilla|manchar? .{0,20}(?:piedra|concreto))",
    re.IGNORECASE,
)


def topics_of(text: str) -> frozenset[str]:
    """Return which questions a line of a label answers: one at least, OFFICE where it speaks to who applies alone."""
    found = set()
    if _WALK.search(text):
        found.add(KEEP_OFF)
    if _CARE.search(_WASHING.sub("", text)):
        found.add(CARE)
    if _DRIFT.search(text):
        found.add(DRIFT)
    return frozenset(found or {OFFICE if _OFFICE.search(text) else REST})
