"""A head that takes a beat for late whose time of day lies before the last one's, unless it has none."""

import sys

import head
import node

NO_CLOCK_MS = 1000000000000


class Watchful(node.Node):
    latest = 0

    def _take(self, topic, payload, retained, now):
        if topic.endswith(b"/beat") and not retained:
            at = node.read(payload, node.BEAT)["at"]
            if at > NO_CLOCK_MS:
                late, self.latest = at < self.latest, max(at, self.latest)
                if late:
                    return
        super()._take(topic, payload, retained, now)


head.Node = Watchful
head.main(sys.argv[1:])
