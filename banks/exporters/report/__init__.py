"""The evidence as one HTML file that needs nothing else: no script, no font, no network."""
