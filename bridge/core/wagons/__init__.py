"""Wagons: what is to be moved, what became of it, how full roads are, and where to look for what is lost."""
