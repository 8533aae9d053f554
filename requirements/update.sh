#!/usr/bin/env bash
# Resolve the newest versions that pyproject.toml allows, for every supported Python and platform, and lock them.
# Needs uv on the path.
set -eu
cd "$(dirname "$0")/.."
flags="--universal --python-version 3.11 --generate-hashes --no-header --no-annotate --quiet"
uv pip compile $flags pyproject.toml -o requirements/run.txt
uv pip compile $flags pyproject.toml --extra dev -o requirements/test.txt
