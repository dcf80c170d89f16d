"""Descriptions of a shared package for people, repositories and machines."""
