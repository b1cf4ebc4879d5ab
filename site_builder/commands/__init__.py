"""Commands that help to start: what each says and writes. `__main__` parses their arguments and prints their lines."""
