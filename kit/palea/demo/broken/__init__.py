"""The broken package: the invented journey with planted mistakes."""
