"""What the work costs: per visit, product, site or month, and plans side by side."""

from __future__ import annotations

from records.services.costing.compare import Plan, PlanPart, compare
from records.services.costing.report import PER, CostReport, CostRow, cost

__all__ = ["PER", "CostReport", "CostRow", "Plan", "PlanPart", "compare", "cost"]
