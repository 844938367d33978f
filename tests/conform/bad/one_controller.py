"""A head that believes there is but one controller: a beat of another boot simply takes over."""

import sys

import head
import lease
import node


class Believing(lease.Lease):
    def hear(self, boot, seq, epoch, stop, test, now):
        self._heard = [each for each in self._heard if each[0] == boot]
        super().hear(boot, seq, epoch, stop, test, now)


node.Lease = Believing
head.main(sys.argv[1:])
