"""Scenes on pages, and their encoders to SVG, PNG, PDF and HTML bytes."""
