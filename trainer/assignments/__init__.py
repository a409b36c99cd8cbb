"""Sets that a teacher hands out, taking them, and the results that come back."""
