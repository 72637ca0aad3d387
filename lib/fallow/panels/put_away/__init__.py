"""Put away: the last feed before a journey, the hour it goes to the cold, and what that costs on return."""
