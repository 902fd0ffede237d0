#!/bin/sh
# The lowest versions that pyproject.toml lets in, in a fresh environment at $1, and the commands a farm needs first.
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
"$place/bin/pip" install -q -c "$place/lowest.txt" "$root"
cd "$place"
"$place/bin/rationlp" new farm --demo
"$place/bin/rationlp" check farm
"$place/bin/rationlp" bin farm --format json | "$place/bin/python" -c "import json, sys; json.load(sys.stdin)"
"$place/bin/rationlp" ration farm --stage sw_gro_25_50 --bin north
"$place/bin/rationlp" sheets farm --stage sw_gro_25_50 --bin north -o mix.xlsx
"$place/bin/rationlp" schema ration > schema.json
