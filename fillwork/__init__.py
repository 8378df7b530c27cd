"""Plan the painted finish of geometric line work."""

__version__ = "0.1.0"
