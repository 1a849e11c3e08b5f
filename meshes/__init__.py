"""Demo characters and the script that makes them."""
