"""Reads: rows into the engine's dataclasses, lists and pages. The only place with prefetches."""
