"""umqtt with its traps taken out: retained is marked, packet ids begin again, half a packet ends in time."""

from umqtt.simple import MQTTClient

IPPROTO_TCP, TCP_NODELAY = 6, 1
LAST_ID = 65535
PUBLISH, PINGRESP = 0x30, 0xD0
MOST = 2048


class Wire(MQTTClient):
    """A connection. What comes is appended to `inbox` as (topic, payload, retained); nothing is obeyed here.

    A packet that begins and does not end within `patience_s` ends the connection: the node connects
    anew, and its lamps do not wait for it, for the watchdog is a timer.
    """

    def __init__(self, client, host, port, user, password, keepalive, patience_s):
        super().__init__(client, host, port, user, password, keepalive)
        self.patience_s = patience_s
        self.inbox = []
        self.set_callback(lambda *_: None)

    def connect(self):
        super().connect(clean_session=True)
        self.sock.setsockopt(IPPROTO_TCP, TCP_NODELAY, 1)  # or each small message waits 40 ms and more
        self.sock.settimeout(self.patience_s)

    def publish(self, topic, payload, retain=False, qos=0):
        if self.pid == LAST_ID:  # umqtt would go on to 65536, which is sent as 0, and wait for ever
            self.pid = 0
        super().publish(topic, payload, retain, qos)

    def wait_msg(self):
        """Take one packet. umqtt's own drops the retained mark: what is retained is not live."""
        first = self.sock.read(1)
        self.sock.settimeout(self.patience_s)
        if first is None:
            return None
        if not first:
            raise OSError(-1)
        kind = first[0]
        if kind == PINGRESP:
            self._take(1)
            return None
        if kind & 0xF0 != PUBLISH:
            return kind
        size = self._recv_len()
        if size > MOST:
            raise OSError(-1)
        packet = self._take(size)
        at = 2 + (packet[0] << 8 | packet[1])
        topic = packet[2:at]
        if kind & 0x06:
            self.sock.write(b"\x40\x02" + packet[at : at + 2])
            at += 2
        self.inbox.append((topic, packet[at:], bool(kind & 1)))
        return kind

    def _take(self, size):
        data = self.sock.read(size)
        if data is None or len(data) != size:
            raise OSError(-1)
        return data

    def close(self):
        """Leave without a goodbye: the broker says the will."""
        if self.sock:
            self.sock.close()
            self.sock = None
