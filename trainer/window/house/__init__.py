"""The house itself: the window, its loop, its console, and how it is opened."""
