"""What became of the treatments: ratings, looks that are due, and all that is asked of them."""

from __future__ import annotations

from records.services.follow_up.rating import Done, Order, rate
from records.services.follow_up.ratings import Rated, ratings
from records.services.follow_up.treated import Treated, Used, treated_since, treatments_of

__all__ = ["Done", "Order", "Rated", "Treated", "Used", "rate", "ratings", "treated_since", "treatments_of"]
