"""C3D files: guarded, read and told apart."""
