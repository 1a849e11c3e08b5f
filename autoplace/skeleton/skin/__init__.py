"""Which joints every vertex of a mesh follows, and by how much."""
