"""Cost, quote, ledger, payback."""
