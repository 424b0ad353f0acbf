"""What is asked of many boards at once: totals, buying, choosing, grades, matching, milling."""
