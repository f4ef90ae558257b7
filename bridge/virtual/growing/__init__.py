"""Railways that nobody has built: whole railway folders drawn from a seed, small ones in every variety and large ones for measuring."""
