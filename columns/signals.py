"""What `columns` tells the layers above, inside the transaction of the change.

Receivers get the open `log` (labsite.audit.services.Change) as `log` and write through it or
through services of their own; what they raise undoes the whole change.
"""

from django.dispatch import Signal

# basket_pass, log: a pass ended; a clearing one empties the column of its specimens.
basket_pass_finished = Signal()
# fill, log: the column is empty.
fill_drained = Signal()
# old, new (FloatSet), log: a float set was replaced; what rests on it is to be computed again.
float_set_amended = Signal()
# old, new (Calibration of one set), log: computed again from changed certificates or floats.
calibration_recomputed = Signal()
# fill, since_at, log: from this instant on another calibration, or none, may be in force.
calibrations_changed = Signal()
