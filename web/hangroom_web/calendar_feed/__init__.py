"""The calendar: what stands in it, how it moves, and its form for phones (RFC 5545)."""
