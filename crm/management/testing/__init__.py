"""What the tests run on: private servers, and pytest once for each database."""
