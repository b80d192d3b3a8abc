"""Random nights in which every key of a request is in use."""
