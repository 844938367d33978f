"""The wiring table: checked, printed as sheets and as a cause-and-effect matrix."""
