"""The edge of the template to a few hundredths of a millimetre."""
