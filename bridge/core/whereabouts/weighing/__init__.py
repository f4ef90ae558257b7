"""Several possible arrangements of all vehicles weighed against each other by the evidence."""
