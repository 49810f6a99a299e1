"""Two-letter codes of states and territories, as the post writes them.

Source: United States Postal Service, Publication 28, appendix B (two-letter state and possession abbreviations).
"""

from __future__ import annotations

_CODES = """
AL AK AZ AR CA CO CT DE DC FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO MT NE NV NH NJ NM NY NC ND OH OK OR PA RI
SC SD TN TX UT VT VA WA WV WI WY AS GU MP PR VI FM MH PW
"""
STATES = frozenset(_CODES.split())
