# make demo and make test do everything on a fresh Debian or Ubuntu machine with git, make and Python >= 3.11.
# PYTHON=/path/to/python3 chooses the interpreter; CASE=name another shipped case, or a case file, for the demo.

VENV := .venv
CASE ?= baritone-six
export CASE  # the shell reads it: a file's name may hold blanks
SUITES ?= bookworm trixie

unexport PYTHONDONTWRITEBYTECODE  # the tests start hundreds of processes: each would compile the program anew, 0.3 s

.PHONY: help demo test slow soak check fresh constraints bench measured clean
.DEFAULT_GOAL := help

help:
	@echo "make demo    install into $(VENV), predict a shipped case, say where the results are"
	@echo "make test    install what the tests need, then the quick tests and make check: minutes"
	@echo "make slow    the other tests: whole studies, pages in a browser, every shipped case held against 3-D; a quarter of an hour"
	@echo "make soak    cases, laws, kills and damage at random for MINUTES=30; counts, and what broke"
	@echo "make check   ruff, mypy, the walls between packages, and the page's modules"
	@echo "make fresh   both commands above on bare machines: Debian 12 and 13 by debootstrap (root only; SUITES=trixie: one)"
	@echo "make constraints   renew constraints.txt, the versions that are installed"
	@echo "make bench   times, sizes and errors, printed"
	@echo "make measured   the tables of docs/measured.md anew (hours)"
	@echo "make clean   remove $(VENV), build leftovers and caches; results/ stays"

demo: $(VENV)/.run
	@bash tools/demo.sh

# Two processes with one thread each: BLAS threads only get in each other's way. Where one of them is killed the run ends
# there and has failed: with a new one in its place pytest-xdist may wait without end.
PYTEST := OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 $(VENV)/bin/python -m pytest -n 2 --max-worker-restart=0 --dist loadfile \
	--no-loadscope-reorder

test: $(VENV)/.test
	$(PYTEST) -m "not slow"
	@$(MAKE) --no-print-directory check

slow: $(VENV)/.test
	$(PYTEST) -m slow tests tests/slow

MINUTES ?= 30
soak: $(VENV)/.test
	OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 $(VENV)/bin/python tests/run.py soak --minutes $(MINUTES)

check: $(VENV)/.test
	$(VENV)/bin/ruff check .
	$(VENV)/bin/mypy
	PYTHONPATH=tests/_ns $(VENV)/bin/lint-imports --no-cache
	@bash tools/page.sh

# Exit code 3, nothing was run, is make's to turn into an error: whoever asks for it by name wants to know.
fresh:
	@bash tools/fresh.sh $(SUITES)

constraints: $(VENV)/.test
	$(VENV)/bin/python tools/constraints.py

bench: $(VENV)/.test
	$(VENV)/bin/python tests/run.py bench

measured: $(VENV)/.test
	OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 $(VENV)/bin/python tests/run.py measured

# The environment knows this folder by its path: after a move or a copy it is made again.
ifneq ($(shell cat $(VENV)/.run 2>/dev/null),$(CURDIR))
.PHONY: $(VENV)/.run
endif

$(VENV)/.run: pyproject.toml constraints.txt tools/setup.sh
	@bash tools/setup.sh run

$(VENV)/.test: $(VENV)/.run
	@bash tools/setup.sh test

clean:
	rm -rf $(VENV) $(VENV).new $(VENV).old build dist *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
