"""Railways that nobody has built: whole folders drawn from a seed, small in every variety or large for measuring."""
