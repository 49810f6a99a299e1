"""The account of each load: made, used stop by stop, carried on, disposed of, left, and what nothing accounts for."""

from __future__ import annotations

from records.services.mixing.ledger import InTank, Ledger, Share, Stop, ledger, loads, made_since
from records.services.mixing.making import Made, log_discarded, log_left, log_rinsed, make
from records.services.mixing.past import MixLog, load_past

__all__ = [
    "InTank",
    "Ledger",
    "Made",
    "MixLog",
    "Share",
    "Stop",
    "ledger",
    "load_past",
    "loads",
    "log_discarded",
    "log_left",
    "log_rinsed",
    "made_since",
    "make",
]
