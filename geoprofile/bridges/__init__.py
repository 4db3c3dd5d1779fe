"""From the tables of a site to what the computing rooms take, and back."""
