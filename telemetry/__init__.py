"""Compute: from a log to a review. Knows no screen."""
