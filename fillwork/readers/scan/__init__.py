"""A scan or a photograph of an inked sheet in, exact line work out.

Terms: a *sheet* is the paper in the picture; the *page* is the sheet laid flat,
in px of its own resolution; *darkness* is 0 on paper and 1 on black, the light
taken out; the *skeleton* is the middle of the inked lines, parted into *chains*
between *nodes*; chains that run smoothly through nodes make a *strand*; a strand
is cut into *pieces*, each on a line or a circle.
"""
