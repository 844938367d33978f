"""The simulated track."""
