"""Music made here: fresh pieces by rule, and patterns in any key."""
