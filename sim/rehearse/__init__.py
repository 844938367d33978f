"""Sequences played in their own time, in one process: minutes take seconds, and give the same every time."""
