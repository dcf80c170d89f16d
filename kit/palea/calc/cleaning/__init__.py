"""What cleaning keeps, what it breaks, and the time that it takes. The unit of replication is the cleaning run."""
