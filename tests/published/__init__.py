"""Values printed by others: standards, handbooks, government reports, each with its source beside it.

Single published values that stand in the middle of a longer check bear the marker `published` where they are;
``pytest -m published`` runs them all.
"""
