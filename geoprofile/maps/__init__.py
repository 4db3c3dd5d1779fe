"""What maps and sections hold, as numbers and geometry: the ground between tables and pictures."""
