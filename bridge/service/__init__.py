"""The service: what links bring is appended to the journal, then folded, then shown.

Rule: the screen never shows what the journal lacks, and a replay of the journal says the same as the live session did.
"""
