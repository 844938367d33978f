"""A kart that sets its limit to caution when nobody leads it, also where it was less."""

import sys
from time import ticks_diff

import kart


class Upwards(kart.Limiter):
    def _fallen(self, now):
        fallen, caution = super()._fallen(now), self._caps["fail_kmh"]
        alone = self._lease.beat is None and self._alone is not None and not self._lease.stop
        if alone and ticks_diff(now, self._alone) < kart.CREEP_AFTER_MS and fallen > 0:
            return caution
        return fallen


kart.Limiter = Upwards
kart.main(sys.argv[1:])
