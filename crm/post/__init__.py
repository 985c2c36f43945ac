"""The outbox: rows first, then actions. Planned, queued, claimed, checked again, delivered, answered for."""
