# make demo | make test | make cover | make lint | make bench | make bench-full: each sets up .venv by itself the first time.
PYTHON ?= python3
BIN := .venv/bin
STAMP := .venv/installed.stamp
FAST := .venv/fast.stamp

.PHONY: demo test cover lint bench bench-full browser clean

demo: $(STAMP)
	@mkdir -p build/demo
	$(BIN)/branch-router route scenarios/loading_dock.json -o build/demo/route.json
	$(BIN)/branch-router check scenarios/loading_dock.json build/demo/route.json
	$(BIN)/branch-router draw scenarios/loading_dock.json build/demo/route.json -o build/demo/plan.svg
	$(BIN)/branch-router draw scenarios/loading_dock.json build/demo/route.json -o build/demo/sheets.pdf
	$(BIN)/branch-router cutlist scenarios/loading_dock.json build/demo/route.json -o build/demo/shop
	$(BIN)/branch-router report scenarios/loading_dock.json build/demo/route.json -o build/demo/report.html
	@echo "The route is in   $(CURDIR)/build/demo/route.json"
	@echo "The picture is in $(CURDIR)/build/demo/plan.svg, sheets to print in build/demo/sheets.pdf"
	@echo "The cut list is in $(CURDIR)/build/demo/shop/cutlist.xlsx"
	@echo "Open $(CURDIR)/build/demo/report.html in a browser: the whole answer on one page"

test: $(STAMP) browser
	$(BIN)/python -m pytest -n 2 --dist worksteal

# The report is tested in headless Chromium. As root on a Debian machine it is installed where it is missing;
# elsewhere those tests skip and say why (with CI=true they fail instead).
browser:
	@command -v chromium >/dev/null || command -v chromium-browser >/dev/null || { \
	  if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	    echo "installing chromium, to test the report in"; \
	    { apt-get -qq update && DEBIAN_FRONTEND=noninteractive apt-get -qq install -y --no-install-recommends chromium; } \
	      >/dev/null 2>&1 || echo "chromium cannot be installed: tests of the report in a browser are skipped"; \
	  else echo "no chromium: tests of the report in a browser are skipped (apt-get install chromium)"; fi; }

# Line and branch coverage of the whole test run, about twice as long as `make test`.
cover: $(STAMP) browser
	$(BIN)/pip install --quiet --disable-pip-version-check -c constraints.txt 'coverage>=7.10' 'pytest-cov>=6.0'
	$(BIN)/python -m pytest -n 2 --dist worksteal -q --cov --cov-report=term

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
