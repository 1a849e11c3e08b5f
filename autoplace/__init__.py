"""Places, orients and checks an animation skeleton in a character mesh."""
