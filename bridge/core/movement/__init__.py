"""Trains on the move: which engine works what, its going and coming, in time or not, on its road or not."""
