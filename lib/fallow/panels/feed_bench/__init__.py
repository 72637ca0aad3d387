"""The bench of sliders: what one feed is made of, and when both clocks make it ripe."""
