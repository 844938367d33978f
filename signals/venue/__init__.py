"""Venue files: read, checked, explained."""
