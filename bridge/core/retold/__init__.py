"""The recent past, told again where something came late."""
