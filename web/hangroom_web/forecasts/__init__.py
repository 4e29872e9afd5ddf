"""The daemon's forecasts as the page shows them: what stands, how old it is, and in which words."""
