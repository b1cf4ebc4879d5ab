# make site       the published site, in site/
# make test       every check, with reduced counts of seeds and fuzz cases
# make test-full  the same with the stated counts
# make bench      how fast it is, on this machine
#
# Each makes the virtual environment .venv first, and again when pyproject.toml or constraints.txt has changed.

VENV := .venv
# The first interpreter that runs and is new enough. Say `make PYTHON=/path/to/python3` for another.
PYTHON ?= $(shell for name in python3.11 python3 python3.12 python3.13 python3.14; do \
	"$$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && echo "$$name" && break; done)
INSTALL := $(VENV)/bin/python -m pip install --quiet --constraint constraints.txt --editable
# One more than a small machine has cores, since workers wait for the browser and for commands they try.
PYTEST := $(VENV)/bin/python -m pytest -n 3
BROWSERS := chromium-headless-shell chromium chromium-browser google-chrome

# mkdocs-material prints a banner about a next major version of mkdocs, which this project does not use.
export NO_MKDOCS_2_WARNING := 1
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.PHONY: site test test-full bench
.DEFAULT_GOAL := site

site: $(VENV)/.for-site
	$(VENV)/bin/site-builder build
	@echo
	@echo "The site is in site/. To look at it:   $(VENV)/bin/python -m http.server --bind 127.0.0.1 --directory site 8000"
	@echo "To edit and see it change:             $(VENV)/bin/site-builder serve"
	@echo "Both answer at http://127.0.0.1:8000/"

test: .checks
	$(PYTEST)

test-full: .checks
	FULL=1 $(PYTEST)

bench: $(VENV)/.for-tests
	$(VENV)/bin/python -m tests.benchmarks

.PHONY: .checks .browser
.checks:
	@$(MAKE) --no-print-directory --jobs=2 $(VENV)/.for-tests .browser
	$(VENV)/bin/ruff format --check .
	$(VENV)/bin/ruff check .
	$(VENV)/bin/mypy
	$(VENV)/bin/lint-imports

# Whether tests without a browser fail or are reported as not run is decided in tests/browser/conftest.py.
.browser:
	@for name in $(BROWSERS); do command -v "$$name" >/dev/null && exit 0; done; \
	if [ "$$(id -u)" = 0 ] && [ -e /etc/debian_version ]; then \
		export DEBIAN_FRONTEND=noninteractive; \
		apt-get update -qq && for name in chromium-headless-shell chromium; do \
			apt-get install -qq -y --no-install-recommends $$name fonts-dejavu-core && exit 0; done; true; \
	else \
		echo "No Chromium here: the tests in tests/browser will not run."; \
		echo "Debian, Ubuntu: sudo apt-get install chromium. Elsewhere: put chromium or google-chrome on the PATH."; \
	fi

$(VENV)/bin/python:
	@test -n "$(PYTHON)" || { echo "Python 3.11 or newer is needed, and none was found."; exit 1; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/.for-site: pyproject.toml constraints.txt | $(VENV)/bin/python
	$(INSTALL) .
	@touch $@

$(VENV)/.for-tests: pyproject.toml constraints.txt | $(VENV)/bin/python
	$(INSTALL) '.[test]'
	@touch $@ $(VENV)/.for-site
