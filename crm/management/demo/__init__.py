"""The demo: its data folder, and the tour that plays the main job in a terminal."""
