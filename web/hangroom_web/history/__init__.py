"""A room's past: which time is asked for, what was read in it, and the words for both."""
