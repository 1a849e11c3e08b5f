"""How well fingers are found and placed on invented hands."""
