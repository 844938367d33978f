"""Sequence files: calls with the answers and lights they must give."""
