"""Sheets for people."""
