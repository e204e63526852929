"""Forecasters side by side over invented households whose true habits are known."""
