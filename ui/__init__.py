"""The page: layout and wording only; every errand is done by `scanner.app`."""
