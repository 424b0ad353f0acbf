"""A second photo of a face under a low lamp, laid over the first."""
