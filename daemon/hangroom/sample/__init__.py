"""Invented batches with their whole record, for the demo and for looking around; never real."""
