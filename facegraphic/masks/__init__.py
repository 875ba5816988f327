"""Paint masks: what covers the box while a coat is sprayed, and how it is cut and held together."""
