"""Counterchange: colours that change places under the symmetry."""
