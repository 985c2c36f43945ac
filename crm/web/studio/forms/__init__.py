"""What the studio types in, and what is made of it."""
