"""Paper study: marks as they are typed while the printed bank lies open."""
