# make demo | make test | make lint | make bench | make bench-full: each sets up .venv by itself the first time.
PYTHON ?= python3
BIN := .venv/bin
STAMP := .venv/installed.stamp
FAST := .venv/fast.stamp

.PHONY: demo test lint bench bench-full clean

demo: $(STAMP)
	@mkdir -p build/demo
	$(BIN)/branch-router route scenarios/loading_dock.json -o build/demo/route.json
	$(BIN)/branch-router check scenarios/loading_dock.json build/demo/route.json
	$(BIN)/branch-router draw scenarios/loading_dock.json build/demo/route.json -o build/demo/plan.svg
	$(BIN)/branch-router cutlist scenarios/loading_dock.json build/demo/route.json -o build/demo/shop
	@echo "The route is in   $(CURDIR)/build/demo/route.json"
	@echo "The picture is in $(CURDIR)/build/demo/plan.svg"
	@echo "The cut list is in $(CURDIR)/build/demo/shop/cutlist.xlsx"

test: $(STAMP)
	$(BIN)/python -m pytest -n 2

lint: $(STAMP)
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy

# The quick set, under five minutes on two cores once all is set up.
bench: $(FAST)
	$(BIN)/python benchmarks/bench.py

bench-full: $(FAST)
	$(BIN)/python benchmarks/bench.py --full

# Where numba cannot be had the figures are those without it, and the page says so.
$(FAST): $(STAMP)
	@$(BIN)/pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[fast]' || \
	  echo "numba cannot be installed here: measured without it"
	@touch $@

# Written last: a broken set-up is begun anew.
$(STAMP): pyproject.toml constraints.txt
	$(PYTHON) -c 'import sys; v = sys.version_info[:2]; sys.exit(None if (3, 11) <= v < (3, 14) else f"python 3.11, 3.12 or 3.13 is needed, {sys.executable} is {v[0]}.{v[1]}; say make PYTHON=...")'
	@test -x $(BIN)/pip || $(PYTHON) -m venv .venv || { \
	  rm -rf .venv; \
	  $(PYTHON) -m pip --version >/dev/null 2>&1 || { echo "$(PYTHON) has neither ensurepip nor pip: install python3-venv"; exit 1; }; \
	  $(PYTHON) -m pip install --quiet --target build/bootstrap virtualenv && \
	  PYTHONPATH=build/bootstrap $(PYTHON) -m virtualenv --quiet .venv; }
	$(BIN)/pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[test,dev]'
	@touch $@

clean:
	rm -rf build .mypy_cache .pytest_cache .ruff_cache
