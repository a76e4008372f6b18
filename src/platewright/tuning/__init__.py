"""Measured coupons to chart corrections."""
