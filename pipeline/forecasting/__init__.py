"""How much of an item next months will need, how sure that is, and how good such forecasts were before."""
