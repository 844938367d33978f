"""The processes under `run`."""
