"""The cure: programs, the record of a bath, its dose, its heat, and what may be said of it."""
