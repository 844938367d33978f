"""A venue's own authority, and the keys of whoever speaks at its broker: `kerblight wiring keys`."""
