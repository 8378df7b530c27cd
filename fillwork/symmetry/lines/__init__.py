"""What lines show: evidence, lattice, the group that fits."""
