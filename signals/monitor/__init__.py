"""The independent conflict monitor; imports nothing of the core."""
