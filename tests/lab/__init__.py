"""The planting lab: faults of known size put into songs, and what the measures and rules make of them.

`python -m tests.lab` prints recall with counts and 95 % bounds, the error of the estimate and false alarms,
per kind and size. `python -m tests.lab offset --seed 31` runs one kind with other songs. Not run by CI as a
whole: tests/lab/test_lab.py plants a few.

A kind of fault is one file in tests/lab/kinds: see offset.py, the shortest.
"""
