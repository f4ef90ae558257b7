"""The engine of inference that the weighing of hypotheses has replaced, kept only to be measured beside it.

Rule: it stays as it was when it was replaced. Nothing is mended or tuned here, or what is measured beside it has no meaning.
"""
