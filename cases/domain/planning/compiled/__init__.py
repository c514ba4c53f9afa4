"""The same decoder and the same replay as ``decode`` and ``replay``, compiled by Numba.

What is planned and why stands in the modules one floor up, in plain Python: they are the
reference, and they do the work where Numba is not there. What is here gives the same plans,
byte for byte (tests/domain/planning/test_compiled.py), many times as fast.
"""
