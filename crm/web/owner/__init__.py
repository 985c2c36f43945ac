"""Pages that owners open without signing in."""
