"""Which pier side serves each target best: a request comes in, each choice with its best night goes out."""
