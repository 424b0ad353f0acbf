"""What photos tell of a face, as values: marks, references, priors, one phone's lens."""
