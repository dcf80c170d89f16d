"""Strength of solutions, water potential and humidity: pure arithmetic."""
