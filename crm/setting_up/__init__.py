"""What runs before any package is installed: nothing here imports more than Python itself."""
