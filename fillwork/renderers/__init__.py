"""Scenes on pages, their encoders to SVG, PNG, PDF and DXF bytes, and the page."""
