"""A head whose watchdog sits in its message loop: a read that waits for the rest of a packet holds it up."""

import sys

import hal
import head
import node
import wire


class NoTimer:
    def __init__(self, period_ms, call):
        pass


class Patient(wire.Wire):
    def __init__(self, client, host, port, user, password, keepalive, patience_s):
        super().__init__(client, host, port, user, password, keepalive, None)


hal.Timer = NoTimer
node.Wire = Patient
head.main(sys.argv[1:])
