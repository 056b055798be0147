# make demo: set up what running needs, solve the demo, say how to open the page · make check: format, lint, types, tests
# make quick: the tests that one runs all day · make test: those and the slower ones · make deep: what make test leaves out,
# and every random design enumerated afresh · make expected: keeps what enumeration finds (after a change of tests/brute*.py)
# make ortools, make uvicorn: the tests with the oldest and the newest release that is allowed; make ends: of both at once
# make bench: every case by ours and by every peer that is there; writes benchmarks/RESULTS.md, FIT.md, EXPLAIN.md, BATCH.md, SERVICE.md
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
TOOLS := $(VENV)/.tools
PEERS := $(VENV)/.peers
# compat: one path in the environment, in place of a module that every start of Python would load, which takes 16 ms.
# no-compile: Python compiles what it uses, when it first does.
PIP := --quiet --disable-pip-version-check --constraint lock.txt --config-settings editable_mode=compat --no-compile

.PHONY: demo quick test deep expected map check lint types bench ortools uvicorn ends picture clean

# The environment, with what running needs: made once, again only when what it is made of changes.
$(READY): pyproject.toml lock.txt
	@$(PYTHON) -c 'import sys; sys.exit("Ringwright needs Python 3.11 or newer" if sys.version_info < (3, 11) else 0)'
	$(PYTHON) -m venv --clear $(VENV)
	$(BIN)/python -m pip install $(PIP) --editable '.[sheets,service,sky]'
	@touch $(READY)

# What tests, linters and types need, into the same environment, all compiled: tests run side by side, and for them a
# warning of the compiler is a fault.
$(TOOLS): $(READY)
	$(BIN)/python -m pip install $(PIP) --editable '.[dev]'
	@$(BIN)/python -W ignore -m compileall -qq -j 0 $(VENV)/lib || true
	@touch $(TOOLS)

# The general solvers that the benchmarks compare with. What cannot be installed is left out, and said to be.
$(PEERS): $(TOOLS)
	@$(BIN)/python -m pip install $(filter-out --no-compile,$(PIP)) --editable '.[bench]' \
		|| echo "not every package of the extra bench could be installed; its ways are left out"
	@touch $(PEERS)

demo: $(READY)
	$(BIN)/ringwright solve --prove runs/configs/saturn-hall.toml
	@echo 'The page: run $(BIN)/ringwright serve, then open http://127.0.0.1:8137/ in a browser'

# Tests begin a thousand processes: what Python compiles for one of them is kept for all others, whatever is usual here.
# With worksteal neighbours mostly run in one process, and share what was solved for them.
quick test deep: export PYTHONDONTWRITEBYTECODE :=
TESTS := $(BIN)/python -m pytest -n auto --dist worksteal -p no:schemathesis -p no:hypothesispytest

quick: $(TOOLS)
	$(TESTS) -m "not slow and not deep" --enumerate none

test: $(PEERS)
	$(TESTS) -m "not deep"

deep: $(PEERS)
	$(TESTS) -m "deep or enumerated" --enumerate all

expected: $(TOOLS)
	$(BIN)/python tests/enumerated.py

# The map of packages in DEVELOPERS.md, from the imports.
map: $(READY)
	$(BIN)/python tests/house.py

lint: $(TOOLS)
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .

types: $(TOOLS)
	$(BIN)/mypy

check: lint types test

bench: $(PEERS)
	@command -v minizinc >/dev/null || { apt-get update -qq && apt-get install -y -qq --no-install-recommends minizinc; } \
		|| echo "bench: no program minizinc (Debian: apt-get install minizinc); Gecode is left out"
	$(BIN)/python -m benchmarks.run $(BENCH)
	$(BIN)/python -m benchmarks.fit
	$(BIN)/python -m benchmarks.explain
	$(BIN)/python -m benchmarks.batch
	$(BIN)/python -m benchmarks.service

ortools uvicorn: $(READY)
	$(PYTHON) tests/both_ends.py $@ $(ENDS)

ends: $(READY)
	$(PYTHON) tests/both_ends.py ortools uvicorn $(ENDS)

# The picture of the README, from the running service.
picture: $(TOOLS)
	$(BIN)/python docs/page_picture.py

clean:
	rm -rf $(VENV) .venv-* *.egg-info
