"""How right an engine is about an evening: the measures, each with its definition, for any engine behind `engine.Engine`."""
