"""The append-only record."""
