"""Many drawings at once: each in a folder of its own, one table and one sheet of all.

A *job* is one drawing with every palette that is laid on it. A *part* is one of its
results: the row of the table, the files, a small picture. Jobs go to processes of this
machine or to a Dask scheduler; parts come back in any order.
"""
