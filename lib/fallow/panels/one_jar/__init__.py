"""One jar, one holiday: four questions answered at once, and what was done written down as a record that adds up."""
