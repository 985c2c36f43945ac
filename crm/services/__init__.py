"""Writes: one public verb a change. Each checks who asks, checks the facts, writes, all in one transaction."""
