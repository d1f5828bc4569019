"""Before and after: what changed, by how much, how sure, and whether it is fair to say so."""
