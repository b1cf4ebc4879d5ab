"""Derived evidence → files that others can use. Renders text and bytes; whoever calls writes them."""
