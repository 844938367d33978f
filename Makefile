# Two commands do all the set-up on a machine that has python3 (3.11 or newer) and make:
#   make run    the main job, on the embedded defaults
#   make test   the tests
PYTHON ?= python3
BIN    := .venv/bin
ARGS   ?=

.PHONY: run test gate gate-real prove night picture setup lint types layers stale audit check format clean

run: setup
	$(BIN)/kerblight run $(ARGS)

# Whole venues of real processes have the machine to themselves: a node held up for its lease falls safe.
REAL := tests/system tests/sequence/test_processes.py
GATE_REAL := tests/broker tests/conform tests/drill tests/fuzz/test_running.py tests/health tests/opening/test_processes.py \
    tests/packaging tests/panel tests/security tests/sequence tests/sim/study tests/wiring

test: setup
	$(BIN)/python -m pytest -m "not night and not gate" -n 2 --dist loadfile $(REAL:%=--ignore=%) $(ARGS)
	$(BIN)/python -m pytest -m "not night and not gate" $(REAL) $(ARGS)

gate: setup
	$(BIN)/python -m pytest -m gate -n 2 --dist loadfile $(GATE_REAL:%=--ignore=%) $(ARGS)

gate-real: setup
	$(BIN)/python -m pytest -m gate $(GATE_REAL) $(ARGS)

# The rule table, whole: by our explorer and the state machines, by others, by induction at real sizes.
prove: setup
	$(BIN)/kerblight prove --sectors 2 --karts 2 --posts 2 --with spin,rumur,z3
	$(BIN)/kerblight prove --sectors 3 --karts 2 --posts 1 --with spin,rumur
	$(BIN)/kerblight prove --slices
	$(BIN)/kerblight prove --nodes
	$(BIN)/kerblight prove --venue configs/harbour-loop.toml --with z3
	$(BIN)/kerblight prove --venue configs/quarry-ring.toml --with z3
	$(BIN)/kerblight prove --mutants

night: setup
	$(BIN)/python -m pytest -m night $(ARGS)

picture: setup
	$(BIN)/kerblight rehearse configs/sequences/spin-in-the-hairpin.toml --picture docs/window.png --film docs/film.gif

setup: .venv/.ready

.venv/.ready: requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "kerblight needs python3 3.11 or newer; set PYTHON=/path/to/python3.11"; exit 1; }
	@$(PYTHON) -c 'import venv, ensurepip' 2>/dev/null || { echo "python3 lacks venv; install it with: sudo apt-get install -y python3-venv"; exit 1; }
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

lint: setup
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: setup
	$(BIN)/mypy

layers: setup
	$(BIN)/lint-imports

stale: setup
	$(BIN)/python -m signals.cli generate --check

audit: setup
	$(BIN)/pip-audit --disable-pip --require-hashes -r requirements.lock

check: lint types layers stale test

format: setup
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

clean:
	rm -rf .venv build dist .mypy_cache .ruff_cache .pytest_cache .hypothesis
