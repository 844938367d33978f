"""Where drivers see a signal head, where none, and where heads should stand: `kerblight sightlines`."""
