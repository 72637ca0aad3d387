"""Widgets: each collects text, calls one function, shows one answer or one message."""
