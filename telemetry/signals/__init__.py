"""One cleaned view of a flight, made once and handed to every analysis."""
