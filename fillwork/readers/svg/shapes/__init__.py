"""Shapes and path data, turned into curves in bulk."""
