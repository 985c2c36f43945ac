"""Measures how the screens and the engine bear a large studio: made-up record, timings, printed tables."""
