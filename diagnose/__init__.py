"""Stopped Clock: finds out why a pendulum clock stops and how to put it right."""

import os

# The matrices of the reasoning are small: a pool of threads takes longer to wake than one takes to multiply.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.3.0"
