"""The studio: models of instruments, and the arrangements that render the demo loops.

Everything is played onto a ring (``ring.py``): what runs over the end of the loop goes on at its
start, and every filter, amplifier and room is circular, so no loop has a seam. Everything is
seeded with ``numpy.random.RandomState``; the same samples come out every time. Rings are float64,
shape (frames,) for one source and (frames, 2) on the desk, 48 kHz.

Rendered once and kept in ``assets/``; the program itself never loads this package.
"""
