"""Chance for the simulator: one generator per thing that is drawn; nothing here reads a clock or global state."""

import hashlib

import numpy as np


def generator(*key: str | int) -> np.random.Generator:
    """A generator that depends on the key alone, not on the process or on what was drawn before.

    Python's own hash is salted per process, so the key goes through SHA-256.

    >>> float(generator("ferngate-f90", 1).uniform()) == float(generator("ferngate-f90", 1).uniform())
    True
    """
    digest = hashlib.sha256("/".join(map(str, key)).encode()).digest()
    return np.random.Generator(np.random.PCG64(int.from_bytes(digest[:16], "big")))
