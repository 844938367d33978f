"""The window: the only place that draws."""
