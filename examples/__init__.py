"""Our own gate maker, and a camera to photograph his templates with."""
