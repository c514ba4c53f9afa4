"""The front desk: logging what came in, open cases, look-up."""
