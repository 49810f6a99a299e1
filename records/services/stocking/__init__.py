"""Stock: what was bought, used, disposed of and counted, and whether it adds up with the sealed records."""

from __future__ import annotations

from records.services.stocking.disposing import log_disposed, log_emptied
from records.services.stocking.entries import Purchase, log_bought, log_counted, product_by_id, purchases
from records.services.stocking.lots import LotLine
from records.services.stocking.prices import Price, PriceList, unit_price
from records.services.stocking.shelf import Stock, StockLine, stock

__all__ = [
    "LotLine",
    "Price",
    "PriceList",
    "Purchase",
    "Stock",
    "StockLine",
    "log_bought",
    "log_counted",
    "log_disposed",
    "log_emptied",
    "product_by_id",
    "purchases",
    "stock",
    "unit_price",
]
