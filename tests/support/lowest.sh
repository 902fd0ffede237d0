#!/bin/sh
# The lowest versions that pyproject.toml lets in, in a fresh environment at $1, with a short set of tests.
set -eu
place=$1
root=$(cd "$(dirname "$0")/../.." && pwd)
python3.11 -m venv "$place"
python3.11 - "$root/pyproject.toml" > "$place/lowest.txt" <<'PY'
import re, sys, tomllib
for need in tomllib.load(open(sys.argv[1], "rb"))["project"]["dependencies"]:
    name, lowest = re.match(r"([\w.-]+)\s*>=\s*([\d.]+)", need).groups()
    print(f"{name}=={lowest}")
PY
"$place/bin/pip" install -q -c "$place/lowest.txt" "$root" pytest pytest-xdist hypothesis jsonschema
cd "$root"
"$place/bin/python" -m pytest -n 0 -q tests/cli/test_first_hour.py tests/cli/test_docs.py tests/show/test_schema.py
