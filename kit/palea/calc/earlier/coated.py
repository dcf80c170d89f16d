"""Version 1 of what was done against what was planned."""

from palea.calc.coating.planned import WITHIN, planned_and_done


def planned_and_done_1(planned_steps, within=WITHIN, confidence=0.95):
    """Version 1 of coating.planned.planned_and_done, with its arguments and shapes.

    Changed since: a figure counted as done as planned within a share of the plan, whatever bounds the procedure states. The
    later is better because the procedure knows which departure does no harm.
    Source: common practice, no source.
    """
    return planned_and_done(planned_steps.drop(columns=["lowest", "highest"], errors="ignore"), within, confidence)
