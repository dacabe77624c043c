"""The demo: an invented water main, a tank and a bridge deck, and what happened on them, told through the same actions."""
