"""The demo: an invented water main, its people, and what happened on it, told through the same actions as everything."""
