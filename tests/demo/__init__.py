"""A deterministic simulator of batteries on a bench: it makes the demo's logs and gives tests a known truth."""
