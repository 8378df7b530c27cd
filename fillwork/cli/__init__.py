"""The command line: each command parses, calls one function, prints and ends."""
