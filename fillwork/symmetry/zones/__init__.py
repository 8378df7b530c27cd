"""Parts of a drawing that have a symmetry each: fields, borders, medallions."""
