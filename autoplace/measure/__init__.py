"""Where does the character stand, and what shape does it have? Knows nothing of templates."""
