"""From scenes to bytes: SVG, PNG, PDF, DXF."""
