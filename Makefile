# One command a habit. `make` alone lists them.
PYTHON ?= python3
PAGE ?= yes
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.made-from-lock
JOBS ?= 2
BENCHES ?= floor road scale outlines flaws two real speed place page after-cut marks alike endurance

.DEFAULT_GOAL := help
.PHONY: help setup demo test check format lint types imports fast golden lock bench-floor bench-road bench-place bench-scale bench-speed bench-flaws bench-two bench-outlines bench-real bench-page bench-after-cut bench-marks bench-alike bench-endurance mutation reference fuzz proof dist samples clean

help: ## list the targets
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/:.*## /|/' | awk -F'|' '{printf "  make %-16s %s\n", $$1, $$2}'

$(STAMP): requirements/lock.txt pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or newer is needed: name one with  make PYTHON=python3.12 setup"; exit 2; }
	@$(PYTHON) -c 'import ensurepip, venv' || { echo "This Python has no venv module: install it (on Debian: apt-get install python3-venv)"; exit 2; }
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/lock.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

setup: $(STAMP) ## build .venv with the command bothfaces in it

demo: setup ## the main job on sample_images/ into out/demo/, then the page (PAGE=no stops before it)
	$(BIN)/bothfaces demo $(if $(filter no,$(PAGE)),--no-page)

# Where the environment forbids compiled modules, every process would compile all of them again.
fast test: export PYTHONDONTWRITEBYTECODE :=

# One worker more than cores: the one that looks at pages waits half of its time, the others step back.
test: setup ## everything, browser tests included
	@sh tests/ui/need_chromium.sh
	$(BIN)/python -m pytest -n $$(( $(JOBS) + 1 )) --dist loadgroup

# Side by side: the types are one process's work, and would leave a core idle.
check: setup ## format, lint, types, import rules, fast tests
	@$(MAKE) --no-print-directory -j3 format-check lint types imports fast

format: setup ## rewrite the code in the house format
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

.PHONY: format-check
format-check: setup
	$(BIN)/ruff format --check --quiet .

lint: setup
	$(BIN)/ruff check --quiet .

types: setup
	$(BIN)/mypy

imports: setup
	$(BIN)/lint-imports --no-logo

fast: setup
	$(BIN)/python -m pytest -q -n $(JOBS) --dist loadgroup -m "not slow and not browser"

golden: setup ## redraw the expected pictures; look at the diff before you commit it
	BOTHFACES_GOLDEN=write $(BIN)/python -m pytest -q tests -m "not browser" -k golden

bench-floor: setup ## length, outline and flaws on 12 rendered boards of seeds nothing was tuned on
	$(BIN)/python -m tests.bench.floor

bench-place: setup ## quality of layouts on the cutting jobs in BOTHFACES_REAL (default ../shared)
	$(BIN)/python -m tests.bench.place

bench-road: setup ## from the photos of bench-floor to parts: how many come out sound
	$(BIN)/python -m tests.bench.road

bench-scale: setup ## projected marks and rendered photos through the real fit: errors and what lies inside U
	$(BIN)/python -m tests.bench.scale --barred --jobs $(JOBS) --keep
	$(BIN)/python -m tests.bench.rendered --first 74070 --jobs $(JOBS) --keep

bench-speed: setup ## how long a face and a look take against decoding and warping its photo
	OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 $(BIN)/python -m tests.bench.speed

bench-flaws: setup ## possible flaws, and chalk, on rendered faces of seeds nothing was tuned on
	$(BIN)/python -m tests.bench.flaws --seeds 5426-5435
	$(BIN)/python -m tests.bench.chalk --seeds 4078-4091 --jobs $(JOBS)

bench-two: setup ## the same on boards of a second renderer, which nothing may be tuned on
	$(BIN)/python -m tests.bench.flaws_two --seeds 430-441 --jobs $(JOBS)

bench-outlines: setup ## boards located and outlined on rendered photos of seeds nothing was tuned on
	$(BIN)/python -m tests.bench.outlines --seeds 5800-5809 --jobs $(JOBS)

bench-real: setup ## possible flaws on real sawn softwood in BOTHFACES_REAL (default ../shared)
	$(BIN)/python -m tests.bench.wood --split val

bench-page: setup ## first page, taps and memory of the page's server
	$(BIN)/python -m tests.bench.page_speed

bench-after-cut: setup ## pieces found again, ends and edges read, joints proposed, a low lamp
	$(BIN)/python -m tests.bench.pieces --seeds 8713-8745 --ways cuts,foreign
	$(BIN)/python -m tests.bench.ends_edges --seeds 8732-8771
	$(BIN)/python -m tests.bench.joints --seeds 6020-6039
	$(BIN)/python -m tests.bench.raking --seeds 8059-8068 --jobs $(JOBS)

bench-marks: setup ## lines drawn on boards held against the layout
	$(BIN)/python -m tests.bench.marks --seeds 340-379

bench-alike: setup ## boards of one log among others, and their colour under four lights
	$(BIN)/python -m tests.bench.likeness --seeds 76038-76049 --jobs $(JOBS) --keep
	$(BIN)/python -m tests.bench.colour_scenes --seeds 77136-77147 --jobs $(JOBS) --keep

bench-endurance: setup ## a lot that grows to 200 boards: time and memory of every stage
	$(BIN)/python -m tests.bench.endurance --jobs $(JOBS)

mutation: setup ## small faults put into what measures and judges: are they noticed?
	$(BIN)/python -m tests.mutation --jobs $(JOBS)

reference: setup ## write docs/reference.md from the code
	$(BIN)/python -m tests.reference

fuzz: setup ## damaged files at every border, an hour of CPU
	$(BIN)/python -m tests.fuzz --minutes 60 --jobs $(JOBS)

proof: setup ## run every benchmark (hours) and write PROOF.md and README's figures from them
	for bench in $(BENCHES); do $(MAKE) bench-$$bench || exit 1; done
	$(BIN)/python -m tests.bench.proof --take

dist: setup ## the wheel and the source archive into dist/
	rm -rf dist build
	$(BIN)/python -m pip wheel --quiet --disable-pip-version-check --no-deps --no-build-isolation -w dist .
	$(BIN)/python -c "from setuptools.build_meta import build_sdist; build_sdist('dist')" > dist/sdist.log && rm dist/sdist.log
	@ls -l dist

samples: setup ## render sample_images/ anew (a long step; the pictures are committed)
	$(BIN)/python -m tests.render.samples

lock: ## compile requirements/lock.txt anew (needs uv)
	uv pip compile pyproject.toml --extra page --extra dev --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --allow-unsafe --upgrade -o requirements/lock.txt

clean: ## remove what was built, not the environment
	rm -rf out dist build .mypy_cache .ruff_cache .pytest_cache .import_linter_cache .cache
