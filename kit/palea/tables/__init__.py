"""A package on disk: opened safely, read into typed frames, checked for structure, written as one transaction."""
