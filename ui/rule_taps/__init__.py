"""The browser's side of tapping a rule: four corners on a photo."""
