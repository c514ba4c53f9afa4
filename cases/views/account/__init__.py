"""Signing in, invitations, passwords, tablets and PINs."""
