"""Where things are: zones, landmarks, surfaces, positions and coverage."""
