"""Put a jar away, bring it back, on paper and in the calendar."""
