"""What guards SVG: bytes in, start and end of elements out, within limits."""
