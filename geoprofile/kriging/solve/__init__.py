"""The kriging system and its solution."""
