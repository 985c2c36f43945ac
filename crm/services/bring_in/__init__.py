"""Bringing in the list that a studio really has: one row a visit, in whatever words it was kept."""

from crm.services.bring_in.report import report
from crm.services.bring_in.saving import Order, Outcome, bring_in

__all__ = ["Order", "Outcome", "bring_in", "report"]
