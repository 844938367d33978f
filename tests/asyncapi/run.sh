#!/bin/sh
# Read docs/asyncapi.json with a parser that is not ours; needs node and npm. Exit code 1 with every complaint.
set -eu
cd "$(dirname "$0")"
[ node_modules/.package-lock.json -nt package-lock.json ] || npm ci --silent
exec node check.mjs ../../docs/asyncapi.json
