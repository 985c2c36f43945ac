"""The engine: what wears, what lapses, what may lie on what, and what to tell the owner.

Plain Python. Nothing here imports the web application; the current day or moment is always an argument.
"""
