"""Explore the core: every reachable state of a small venue, every property in each."""
