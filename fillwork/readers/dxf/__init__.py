"""DXF drawings in, `LineWork` out, straight from the tags of the file."""
