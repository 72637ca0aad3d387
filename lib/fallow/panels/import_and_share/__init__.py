"""Bring in what a logger, a meter or another baker wrote; hand an experiment on."""
