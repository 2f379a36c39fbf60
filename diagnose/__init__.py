"""Stopped Clock: finds out why a pendulum clock stops and how to put it right."""

__version__ = "0.1.0"
