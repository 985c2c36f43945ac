"""The studio's own screens."""
