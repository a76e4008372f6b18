"""Inside of the fit: cleaning, dynamic programme, joint least squares, relations. Use ``geometry.fit``."""
