"""The kit for others' nodes: says what a head, a kart or a call box gets wrong, and by which sentence."""
