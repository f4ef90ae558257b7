"""How detectors do: which are under doubt, by what they say or do not say, and how readers read."""
