"""How a logbook of an older version becomes one of this."""
