"""Style sheets, the cascade, colours."""
