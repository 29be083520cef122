"""Shows what `telemetry` found; computes nothing but the thinning of points."""
