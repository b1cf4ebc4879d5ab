"""Builds a public catalogue of battery bench tests from one results file per unit."""

__version__ = "0.1.0"
