#!/usr/bin/env bash
# From a fresh clone on a bare Debian 12 to a plan on the screen: installs what is missing, builds, starts the daemon,
# plans the demonstration shot, shows the answer and writes it to build/demo/.
set -eu
cd "$(dirname "$0")/.."
deploy/install.sh build
cmake -S . -B build/release -G Ninja -DCMAKE_BUILD_TYPE=Release -DSCANTLING_TESTS=OFF >/dev/null
cmake --build build/release --target scantling scantlingd

out=build/demo
mkdir -p "$out"
bin=build/release/bin
socket_folder=$(mktemp -d)
socket="unix:$socket_folder/scantlingd.sock"
"$bin/scantlingd" --listen "$socket" --config-dir config >"$out/scantlingd.log" 2>&1 &
daemon=$!
trap 'kill "$daemon" 2>/dev/null; wait "$daemon" 2>/dev/null || true; rm -rf "$socket_folder"' EXIT
for _ in $(seq 100); do [ -S "$socket_folder/scantlingd.sock" ] && break; sleep 0.1; done

"$bin/scantling" sample --objects 1500 --seed 1 --output "$out/ferry.json"
"$bin/scantling" plan "$out/ferry.json" --address "$socket" | tee "$out/plan.txt"
"$bin/scantling" plan "$out/ferry.json" --address "$socket" --format json >"$out/plan.json"
"$bin/scantling" plan "$out/ferry.json" --address "$socket" --format csv >"$out/plan.csv"
echo
echo "The shot, and the plan as text, JSON and CSV, are in $out/."
echo "Next: $bin/scantling explain $out/ferry.json lamplighter"
