"""A venue's response budget: from something seen to karts that are slow, each term computed and simulated."""
