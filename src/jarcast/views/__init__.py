"""Answers as text; computes nothing."""
