"""Many seeded sessions over a grid of choices, and what comes of them: `kerblight study`."""
