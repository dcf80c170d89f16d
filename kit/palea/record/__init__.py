"""The methods record: what was done to which seed, in sentences that lead back to the rows they rest on."""
