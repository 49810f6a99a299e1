"""Registration numbers as labels and state tables print them, and what is often written in their place.

Form of the federal number: company, hyphen, product (40 CFR 156.10(e); EPA Label Review Manual, chapter 14). A third
group of digits is the distributor's company (40 CFR 152.132). Before registration a product carries a file symbol whose
second part is spelled with the letters of REGULATION (same chapter). California's tables put two letters of label
revision after the product number and number adjuvants of its own from 50000 up (California DPR product table).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from records.domain.states import STATES

MAX_TEXT = 60
CALIFORNIA_ONLY = 50_000  # product numbers from here on are California's own: no federal number exists
_EXAMPLE = "write it as the label prints it, such as 99999-41"


class RegistrationError(ValueError):
    """A text that is not a registration number; the message says what it looks like and what to write."""


class RegistrationKind(StrEnum):
    """Whose number it is."""

    FEDERAL = "federal"  # company-product
    DISTRIBUTOR = "distributor"  # company-product-distributor
    STATE_SUFFIXED = "state-suffixed"  # company-product-revision, and the distributor's company where one sells it
    SPECIAL_LOCAL_NEED = "special-local-need"  # state, two digits of the year, four of the serial


@dataclass(frozen=True, slots=True)
class Registration:
    """A registration number, normalised.

    Attributes:
        text: without blanks, leading zeros and prefix.
        kind: whose number it is.
        federal: the federal number in it; "" where the text does not tell (special local need, a state's own number).
    """

    text: str
    kind: RegistrationKind
    federal: str


_DASHES = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2212", "-"))
_PREFIX = re.compile(
    r"(?:U\.?S\.?\s*)?(?:E\.?P\.?A\.?\s*)?REG(?:ISTRATION|\.)?\s*(?:NO|NUMBER|NUM|#)?\.?\s*[:#]?\s*", re.ASCII
)
_ESTABLISHMENT_PREFIX = re.compile(r"(?:U\.?S\.?\s*)?(?:E\.?P\.?A\.?\s*)?EST(?:ABLISHMENT|\b|\.)", re.ASCII)
_LOCAL_PREFIX = re.compile(r"(?:E\.?P\.?A\.?\s*)?SLN\s*(?:NO|NUMBER|#)?\.?\s*[:#]?\s*", re.ASCII)
_NUMBER = re.compile(r"(\d{1,10})-(\d{1,10})(?:-([A-Z]{2}))?(?:-(\d{1,10}))?", re.ASCII)
_LOCAL = re.compile(r"([A-Z]{2})[\s-]*(\d{2})-?(\d{4})", re.ASCII)
_ESTABLISHMENT = re.compile(r"\d+-[A-Z]{2,3}-\d+", re.ASCII)
_PERMIT = re.compile(r"\d+-EUP-[A-Z0-9]+", re.ASCII)
_FILE_SYMBOL = re.compile(r"\d+-[REGULATION]+", re.ASCII)
_LETTERS = re.compile(r"\d+-[A-Z]+", re.ASCII)
_NO_NUMBER = frozenset(
    {"NONE", "NO", "N/A", "NA", "N.A.", "NIL", "-", "EXEMPT", "25B", "25(B)", "MINIMUM RISK", "UNKNOWN", "NOT REQUIRED"}
)


def _shown(text: str) -> str:
    return repr("".join(c if c.isprintable() else "?" for c in text[:40]))


def _refuse_known(text: str, shown: str) -> None:
    """Refuse what is known to be written in this place by mistake, with its own hint.

    Raises:
        RegistrationError: always when the text is one of those.
    """
    if text in _NO_NUMBER or text.startswith(("EXEMPT", "FIFRA", "MINIMUM")):
        raise RegistrationError(
            f"{shown} is no registration number; leave the number out and, for a minimum-risk product, state its"
            " exemption instead"
        )
    if _PERMIT.fullmatch(text):
        raise RegistrationError(f"{shown} is an experimental use permit, not a registration number; {_EXAMPLE}")
    if _ESTABLISHMENT_PREFIX.match(text) or _ESTABLISHMENT.fullmatch(text):
        raise RegistrationError(
            f"{shown} is an establishment number (where it was made), not a registration number; look for"
            " 'EPA Reg. No.' on the label, such as 99999-41"
        )
    if _FILE_SYMBOL.fullmatch(text):
        raise RegistrationError(
            f"{shown} is a file symbol from before registration, not a registration number; look for"
            " 'EPA Reg. No.' on the label, such as 99999-41"
        )
    if _LETTERS.fullmatch(text):
        raise RegistrationError(f"{shown} has letters where the product number belongs; {_EXAMPLE}")


def _local_need(text: str, shown: str) -> Registration | None:
    found = _LOCAL.fullmatch(_LOCAL_PREFIX.sub("", text, count=1) if _LOCAL_PREFIX.match(text) else text)
    if found is None:
        return None
    state, year, serial = found.groups()
    if state not in STATES:
        raise RegistrationError(f"{shown} begins with {state}, which is no state; write it like MN-210003")
    return Registration(f"{state}-{year}{serial}", RegistrationKind.SPECIAL_LOCAL_NEED, "")


def _group(digits: str, what: str, shown: str) -> int:
    value = int(digits)
    if not 0 < value < 10_000_000:  # seven digits occur in California's tables
        raise RegistrationError(f"{shown} has a {what} of {value}, which no registration has; {_EXAMPLE}")
    return value


def read_registration(text: object) -> Registration:
    """Read a registration number: federal, a distributor's, with a state's letters, or for a special local need.

    Args:
        text: as printed; `EPA Reg. No.` in front, blanks around hyphens and leading zeros are dropped.

    Raises:
        RegistrationError: something else; the message says what it looks like and what to write.
    """
    if not isinstance(text, str):
        raise RegistrationError(f"a registration number is text; {_EXAMPLE}")
    shown = _shown(text)
    if len(text) > MAX_TEXT:
        raise RegistrationError(f"{shown} is {len(text):,} characters long; {_EXAMPLE}")
    cleaned = re.sub(r"\s*-\s*", "-", " ".join(text.translate(_DASHES).upper().split()))
    if not cleaned:
        raise RegistrationError(f"the registration number is empty; {_EXAMPLE}")
    prefix = _PREFIX.match(cleaned)
    cleaned = cleaned[prefix.end() :] if prefix else cleaned
    _refuse_known(cleaned, shown)
    local = _local_need(cleaned, shown)
    if local is not None:
        return local
    found = _NUMBER.fullmatch(cleaned)
    if found is None:
        raise RegistrationError(f"{shown} is not a registration number; {_EXAMPLE}")
    company, product = _group(found[1], "company number", shown), _group(found[2], "product number", shown)
    distributor = f"-{_group(found[4], 'distributor number', shown)}" if found[4] else ""
    federal = f"{company}-{product}{distributor}"
    if found[3]:
        own = product >= CALIFORNIA_ONLY
        return Registration(
            f"{company}-{product}-{found[3]}{distributor}", RegistrationKind.STATE_SUFFIXED, "" if own else federal
        )
    kind = RegistrationKind.DISTRIBUTOR if distributor else RegistrationKind.FEDERAL
    return Registration(federal, kind, federal)
