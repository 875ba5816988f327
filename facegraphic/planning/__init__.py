"""A box for a list of parts: rows on the top face, sockets on the walls, the smallest stock box that holds them."""
