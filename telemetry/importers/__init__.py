"""CSV logs → traces, in steps: text, clock, columns, faults, freshness; then several logs onto one clock."""
