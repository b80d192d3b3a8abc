"""The timeline: laid visits -> contiguous steps to the second, totals, and what found no place and why."""
