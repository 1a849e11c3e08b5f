"""What a run says: plain data for a program, and the same drawn for a person at a terminal."""
