"""Files as strangers might send them: mutated examples, of which only values or errors may come out."""
