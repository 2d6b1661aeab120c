"""Sheets for people: the same content as text, Markdown, DOT, SVG and HTML. Pure; no file is written."""
