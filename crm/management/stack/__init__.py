"""The embedded stack: broker, web, worker and beat as children of one command, all ending with it."""
