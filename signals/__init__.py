"""The controller of the track and all that wires it."""
