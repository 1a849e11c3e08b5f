"""A placing that keeps what a person decided: joints locked in an earlier model, and edits."""
