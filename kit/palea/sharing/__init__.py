"""A package on its way to others, and back: made coarse where it must be, archived, reopened, rerun, compared."""
