"""What measures the program itself; not installed with it."""
