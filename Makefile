# What people and the machine call. Everything here works on a fresh clone with git, make and Python 3.11 or newer.
#
#   make test     all checks: what continuous integration runs
#   make demo     plays one repair on the shipped readings, in demo-out/
#   make page     opens the bench page on the demo's job
#   make docs     writes the generated pages again
#   make prove    trials on simulated and measured units      make bench    timings (never a test)
#
# Another interpreter: make test PYTHON=python3.12

PYTHON ?= python3
WORKERS ?= 2
VENV := .venv
WHEEL_VENV := .venv-wheel
BIN := $(VENV)/bin
WHEEL_BIN := $(WHEEL_VENV)/bin
PIP := -m pip --disable-pip-version-check --quiet
# What goes wrong on the way to the registry is told without its address.
BLANKED := sed -e 's|[a-z]*://[^ ]*|(address)|g' -e "s|host='[^']*'|host=(host)|g" -e "s|resolve '[^']*'|resolve (host)|g"
SOURCES := $(shell find src -type f -not -path '*/__pycache__/*' -not -path '*.egg-info/*')
CODE := src tests scripts proving

.PHONY: browser page test lint layers style types sizes fresh units docs guide demo prove bench wheel clean

test: lint units

lint: layers style types sizes fresh

layers: $(VENV)/ready
	$(BIN)/lint-imports --no-cache

style: $(VENV)/ready
	$(BIN)/ruff check $(CODE)
	$(BIN)/ruff format --check $(CODE)

types: $(VENV)/ready
	$(BIN)/mypy --strict src scripts/check_sizes.py scripts/make_map.py scripts/make_cli_docs.py

sizes: $(VENV)/ready
	$(BIN)/python scripts/check_sizes.py

fresh: $(VENV)/ready
	$(BIN)/python scripts/make_map.py --check
	$(BIN)/python scripts/make_cli_docs.py --check
	$(BIN)/python scripts/make_guide.py --check

units: $(WHEEL_VENV)/ready browser
	HALFSPLIT_WHEEL=1 OPENBLAS_NUM_THREADS=1 $(WHEEL_BIN)/python -m pytest -n $(WORKERS) --hypothesis-profile=ci

docs: $(VENV)/ready
	$(BIN)/python scripts/make_map.py
	$(BIN)/python scripts/make_cli_docs.py
	$(BIN)/python scripts/published_table.py

# The guide with its pictures, played in the browser; some minutes.
guide: $(VENV)/ready
	$(BIN)/python scripts/make_guide.py

demo: $(VENV)/ready
	$(BIN)/halfsplit demo --folder demo-out

page: $(VENV)/ready
	test -f demo-out/tarn.job || $(BIN)/halfsplit demo --folder demo-out > /dev/null
	$(BIN)/halfsplit bench demo-out/tarn.job

# The tests of the page run in a real browser.
browser:
	@$(PYTHON) scripts/check_browser.py

prove: $(VENV)/ready
	$(BIN)/python -m proving.faults
	$(BIN)/python -m proving.measured
	$(BIN)/python -m proving.measured --baseline
	$(BIN)/python -m proving.published
	$(BIN)/python -m proving.bouts
	$(BIN)/python -m proving.repairs
	$(BIN)/python -m proving.power
	$(BIN)/python -m proving.recognition
	$(BIN)/python -m proving.alignment
	$(BIN)/python -m proving.alignment --kind s21
	$(BIN)/python -m proving.spectra

bench: $(VENV)/ready
	$(BIN)/python -m proving.bench
	$(BIN)/python -m proving.page_bench

wheel: build/wheel-made

# The folder itself, for people and for the static checks.
$(VENV)/ready: pyproject.toml
	$(PYTHON) scripts/check_python.py
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@echo 'installing the package and the tools into $(VENV)'
	@$(BIN)/python $(PIP) install --editable '.[dev]' > $(VENV)/log 2>&1 || { $(BLANKED) $(VENV)/log; exit 1; }
	touch $@

# The wheel, by way of the source archive, so that a file that is missing from either is found out.
build/wheel-made: $(SOURCES) pyproject.toml README.md LICENSE $(VENV)/ready
	rm -rf build
	mkdir build
	@echo 'building the wheel'
	@$(BIN)/python -P -m build --outdir build/dist . > build/log 2>&1 || { $(BLANKED) build/log; exit 1; }
	touch $@

# The tests run against the wheel, never against the folder.
$(WHEEL_VENV)/ready: build/wheel-made
	test -x $(WHEEL_BIN)/python || $(BIN)/python -m venv $(WHEEL_VENV)
	@echo 'installing the wheel and what the tests need into $(WHEEL_VENV)'
	@{ $(WHEEL_BIN)/python $(PIP) install "$$(ls build/dist/*.whl)[test]" && \
		$(WHEEL_BIN)/python $(PIP) install --force-reinstall --no-deps build/dist/*.whl; } > $(WHEEL_VENV)/log 2>&1 || \
		{ $(BLANKED) $(WHEEL_VENV)/log; exit 1; }
	touch $@

clean:
	rm -rf build demo-out $(WHEEL_VENV) .mypy_cache .ruff_cache .pytest_cache .hypothesis
