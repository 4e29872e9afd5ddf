"""The master alarm database: every alarm there is, as data beside its source."""
