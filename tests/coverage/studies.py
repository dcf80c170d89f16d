"""All studies, in the order of the page."""

import study_curves
import study_field
import study_lots
import study_shares
import study_times

STUDIES = (*study_shares.STUDIES, *study_times.STUDIES, *study_field.STUDIES, *study_lots.STUDIES, *study_curves.STUDIES)
