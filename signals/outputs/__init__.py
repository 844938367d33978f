"""Real lamps and contacts: what drives them, one base class, no silent fallback to another driver."""
