"""How numbers and dates are written in each language, where the framework's own way is not ours."""
