"""A head that refuses fields it does not know: one added field, and it does not obey red any more."""

import sys

import head
import node

KNOWN = set(head.ORDER) | set(node.BEAT) | set(node.TRIP) | {"flash", "number", "lamps"}
KNOWN |= {"what", "where", "due", "shown", "at"}
read = node.read


def strict(payload, fields):
    made = read(payload, fields)
    if not set(made) <= KNOWN:
        raise node.Wrong("a field it does not know")
    return made


head.read = node.read = strict
head.main(sys.argv[1:])
