"""A head that ends, with its lamps as they are, on a message that is no JSON."""

import sys

import head
import node


class Brittle(node.Node):
    def _take(self, topic, payload, retained, now):
        if payload[:1] not in (b"{", b"["):
            sys.stderr.write("it is nonsense\n")
            raise SystemExit(3)
        super()._take(topic, payload, retained, now)


head.Node = Brittle
head.main(sys.argv[1:])
