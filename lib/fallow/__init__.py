"""Fallow: rest a sourdough starter in the cold, bring it back, and learn from trials how many feeds that takes.

Nothing is imported here: ask for the floor you need (``fallow.maths``, ``fallow.records``, ``fallow.stats`` ...).
"""

__version__ = "0.1.0"
