"""What ran out of a hopper that was filled with a mixture, third by third."""

from palea import schema
from palea.derived.handled import seeder_runs
from palea.derived.lookup import TEXT, numbers
from palea.derived.view import view


@view(seeder_runs, handling_counts="handling_id place_no taxon_id seeds")
def samples(seeder_runs, handling_counts):
    """One row a metre and species of a hopper's third: treatment, environment, batch, run, third (1 to 3), sample, taxon, count."""
    order = {word: number for number, word in enumerate(schema.words("hopper_third"), 1)}
    mine = seeder_runs[seeder_runs["hopper_third"].isin(order)].drop(columns="taxon")
    both = handling_counts.merge(mine, left_on="handling_id", right_on="part").dropna(subset=["taxon_id", "place_no"])
    number = both["place_no"].astype(int).astype(str).astype(TEXT)
    told = both.assign(third=numbers(both["hopper_third"], order), sample=both["part"] + " " + number)
    named = told.rename(columns={"taxon_id": "taxon", "seeds": "count"})
    return named[["treatment", "environment", "batch", "run", "third", "sample", "taxon", "count"]].reset_index(drop=True)
