"""How sure a difference is, and which verdict it gets."""
