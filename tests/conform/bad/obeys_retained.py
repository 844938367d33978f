"""A head that takes what is retained for what is meant: it obeys it whoever it was addressed to."""

import json
import sys

import head
import node


class Trusting(node.Node):
    def _take(self, topic, payload, retained, now):
        if retained and topic.endswith(b"/aspect"):
            order = json.loads(payload)
            order["inc"] = self.lease.inc
            payload = json.dumps(order).encode()
        super()._take(topic, payload, retained, now)


head.Node = Trusting
head.main(sys.argv[1:])
