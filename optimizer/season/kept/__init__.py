"""What is kept of a season: nights and answers, by the content of what was asked, on the disk."""
