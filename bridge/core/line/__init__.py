"""The single line: who may be in a section, who is, and what is there that should not be."""
