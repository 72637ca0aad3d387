"""The trial book: one card per open jar, what to do next, and a place to type the next look."""
