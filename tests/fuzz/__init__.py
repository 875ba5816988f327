"""Files as strangers might send them: mutated examples go into every reader, and only values or a UserError may come out."""
