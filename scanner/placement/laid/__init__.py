"""What lies on a board: its cuts, and what a former layout keeps."""
