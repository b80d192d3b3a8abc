"""Who does the jobs of a season: processes, threads, a cluster."""
