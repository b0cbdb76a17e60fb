"""What the test run needs of its own: a throw-away database and broker."""
