"""The timeline: a schedule comes in; contiguous steps, totals, and what was left out and why go out."""
