# Everything sets itself up: Python 3.11 or newer, make and git are enough.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
# one more than there are cores: a browser's test waits half its time
WORKERS ?= $(shell echo $$(($$(getconf _NPROCESSORS_ONLN) + 1)))
# a file's tests share what is dear to make: they stay with one worker, in the order of collection
SHARED := --dist loadfile --no-loadscope-reorder
export OPENBLAS_NUM_THREADS := 1
# where nothing compiled is kept, every worker and every cold start of the tests compiles all anew: 50 s of CPU
unexport PYTHONDONTWRITEBYTECODE

.PHONY: setup demo test quick lint types checks bench performance calibrate accuracy pairs worlds fuzz lowest trust readme docs release lock clean phone

setup: $(READY)

$(READY): requirements.lock pyproject.toml
	$(PYTHON) -c 'import sys; sys.exit("Shaftwright needs Python 3.11 or newer") if sys.version_info < (3, 11) else None'
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@

# The main job on the examples; everything it writes goes to demo-out/.
demo: $(READY)
	$(BIN)/python scripts/demo.py

# Format, lint, types and every test.
test: lint types
	$(BIN)/python -m pytest -n $(WORKERS) $(SHARED)

# The fast tests only, while working.
quick: $(READY)
	$(BIN)/python -m pytest -n auto $(SHARED) -m "not slow and not browser"

lint: $(READY)
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .

types: $(READY)
	$(BIN)/mypy

bench: performance
	$(BIN)/python -m pytest bench --benchmark-only --benchmark-columns=min,mean,rounds --no-header

# Growth, cold starts, a large shop, memory and imports into docs/performance.md, some five minutes of one core.
performance: $(READY)
	$(BIN)/python -m bench.performance

# Full-size simulations; their figures go to docs/ with date and versions. Many hours of one core: the sheet's 2,000 archers
# alone take two or three (calibrate/sheet.py --minutes N --out FILE --page stops earlier, and goes on there).
calibrate: $(READY)
	set -e; for script in calibrate/*.py; do case $$script in */__init__.py) ;; *) $(BIN)/python $$script;; esac; done

# The rules against usual practice, pair by pair, into docs/usual_pairs.md.
pairs: $(READY)
	$(BIN)/python scripts/usual_pairs.py

# What a club's table of tuned rigs would teach the rules: docs/accuracy.md, under three minutes of one core.
accuracy: $(READY)
	$(BIN)/python calibrate/clubs.py

# Worlds that share nothing with the engine, on two cores (about a quarter of an hour): docs/calibration_worlds.md
worlds: $(READY)
	$(BIN)/python -m calibrate.worlds page

# How much is tried; fewer for a short run, whose counts go elsewhere: TRUST_COUNTS=/some/folder make trust READERS=2000
READERS ?= 1000000
COMMANDS ?= 20000
REQUESTS ?= 5000
KILLS ?= 1.0
FAULTS ?= 400

# Files, commands and the page with odd input, about two hours of one core (atheris guides it where it has a wheel).
fuzz: $(READY)
	-$(BIN)/python -m pip install --quiet --disable-pip-version-check "atheris>=3"
	$(BIN)/python trust/fuzz_readers.py --runs $(READERS)
	$(BIN)/python trust/fuzz_commands.py --many $(COMMANDS) --keep
	$(BIN)/python trust/fuzz_page.py --many $(REQUESTS) --keep

# The command line and the page on the lowest versions that pyproject.toml allows, and on the newest.
lowest: $(READY)
	$(BIN)/python trust/versions.py

# Everything that is tried against it, into docs/trust.md; some hours of one core.
trust: fuzz lowest
	$(BIN)/python trust/kills.py --share $(KILLS)
	$(BIN)/python trust/broken_rules.py
	$(BIN)/python trust/same_bytes.py
	$(BIN)/python trust/mutants.py --many $(FAULTS) --keep
	$(BIN)/python trust/page.py

# Taps, scrolls, weight and wait of the page on a phone, into docs/phone.md (needs Chromium).
phone: $(READY)
	$(BIN)/python scripts/phone.py

# Run the commands that README and docs/ show and write output and pictures into them; the reference pages too.
readme: $(READY)
	$(BIN)/python scripts/readme.py
	$(BIN)/python scripts/reference.py

# The pages as a site in site/, with nothing from a network; the picture of the page is renewed where there is a Chromium.
docs: readme
	mkdir -p demo-out
	$(BIN)/shaftwright report examples/heron_marsh --date 2026-05-31 --force --html demo-out/page.html >demo-out/page.txt
	if command -v chromium >/dev/null; then chromium --headless --no-sandbox --disable-gpu --hide-scrollbars \
		--window-size=800,900 --screenshot=docs/pictures/page.png demo-out/page.html 2>/dev/null; fi
	NO_MKDOCS_2_WARNING=1 $(BIN)/mkdocs build --strict --quiet

# sdist and wheel into dist/, built twice and compared, then installed from a wheelhouse and used.
release: $(READY)
	$(BIN)/python scripts/release.py

# Renew the lock file (needs uv).
lock:
	uv pip compile --universal --generate-hashes --extra dev --extra web --extra docs --python-version 3.11 --no-header --quiet pyproject.toml -o requirements.lock

clean:
	rm -rf $(VENV) demo-out site dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
