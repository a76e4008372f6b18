"""Cards, lens and camera: where everything in a photo is, in millimetres."""
