"""PDF pages in, `LineWork` out, by the operators of their content."""
