"""Answers in words: what a name means, what a run found, what lies beside the site."""
