"""The page on which a person turns, bends and corrects a skeleton; needs no page to be tested."""
