"""How far a value moves when nothing has changed."""
