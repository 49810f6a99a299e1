"""What an inspector would find today, and what falls due next."""

from records.services.readiness.model import Gap, Group, Readiness, readiness_document
from records.services.readiness.service import ready

__all__ = ["Gap", "Group", "Readiness", "readiness_document", "ready"]
