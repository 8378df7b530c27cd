"""Which symmetry a drawing has, and which of its faces it carries onto each other."""
