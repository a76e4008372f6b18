"""Which part of the picture is the template, roughly."""
