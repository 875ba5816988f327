"""The display list that every output is made from."""
