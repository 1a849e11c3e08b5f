"""Pictures of a placed skeleton."""
