"""Bring back: the chain of feeds from the cold jar to the dough, and the plan made again after each look."""
