"""The walks that are compared, and whether they may stand beside each other."""
