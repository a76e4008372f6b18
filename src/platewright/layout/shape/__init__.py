"""Polygons of the search: grown, turned, where they meet and how near they may come."""
