"""How fast and how large, by hand: `python -m tests.benchmarks` prints a table; nothing here runs under pytest."""
