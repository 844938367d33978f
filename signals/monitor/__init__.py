"""The independent conflict monitor: disbelieves the controller and the heads alike."""
