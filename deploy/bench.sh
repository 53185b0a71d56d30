#!/usr/bin/env bash
# Installs what is missing, builds, and measures. Ratios first, absolute figures beside them, both of the same run.
#   deploy/bench.sh [view|hiding|budget|whole|live|all]
#     view    measuring boxes against plain scalar code
#     hiding  what hides what, against ray packets (Embree), at 10,000 and 100,000 objects
#     budget  the solver against general ones (CBC, GLPK) at 1,000 and 10,000 objects, then alone up to 1,000,000, again
#             after a change, and along a frontier; BENCH_OTHERS: instances of each kind the general ones get (20; hours)
#     whole   the whole plan of the demonstration shot, its split by stage, and peak memory of 100,000 objects
#     live    a shot assembled live, the real daemon over a socket: from an edit to its first answer and to the settled
#             one, beside an echo of the same bytes, at 10,000 and 100,000 objects; memory; many sessions at once
#   BENCH_SHORT=1  fewer runs and smaller sizes: each part in under four minutes, after the build
set -eu
cd "$(dirname "$0")/.."
part=${1:-all}
case "$part" in
  view | hiding | budget | whole | live | all) ;;
  *) echo "bench.sh: got part '$part', want view, hiding, budget, whole, live or all" >&2; exit 2 ;;
esac
deploy/install.sh build test

cmake --preset release -DSCANTLING_TESTS=ON -DSCANTLING_BENCH=ON >/dev/null
cmake --build --preset release -j "$(nproc)" --target bench_view bench_hiding bench_budget bench_warm bench_whole \
  bench_live bench_stop >&2
build=build/release

# What the view stage was compiled with: the options of one of its files, without paths.
flags() {
  grep -o '"command": "[^"]*view/measure\.cc' "$build/compile_commands.json" | head -n 1 | tr ' ' '\n' |
    grep -E '^-(O|f|m|std|W|D)' | tr '\n' ' '
}

echo "machine   $(lscpu | sed -n 's/^Model name: *//p' | head -n 1), $(nproc) processors," \
  "$(awk '/MemTotal/ {printf "%.1f GiB", $2 / 1048576}' /proc/meminfo), Linux $(uname -r)"
echo "load      $(cut -d ' ' -f 1-3 /proc/loadavg) before the first run"
echo "compiler  $("$(sed -n 's/^CMAKE_CXX_COMPILER:[A-Z]*=//p' "$build/CMakeCache.txt")" --version | head -n 1)"
echo "flags     $(flags)"
echo "commit    $(git rev-parse --short HEAD 2>/dev/null || echo unknown)"

seeds=20 largest=1000000 cap_s=60 others=${BENCH_OTHERS:-20} runs=5 edits=200 edits_s=30 stops=40
[ "${BENCH_SHORT:-0}" = 1 ] && seeds=2 largest=100000 cap_s=3 others=1 runs=3 edits=100 edits_s=2.5 stops=15
wanted() { [ "$part" = "$1" ] || [ "$part" = all ]; }

if wanted view; then
  echo "== view"
  "$build/bin/bench_view"
fi
if wanted hiding; then
  echo "== hiding"
  "$build/bin/bench_hiding"
fi
if wanted budget; then
  echo "== budget"
  "$build/bin/bench_budget" "$seeds" "$largest" "$cap_s" "$others"
  "$build/bin/bench_warm"
fi
if wanted whole; then
  echo "== whole"
  "$build/bin/bench_whole" all "$runs"
fi
if wanted live; then
  echo "== live"
  "$build/bin/bench_live" all "$edits" "$edits_s"
  "$build/bin/bench_stop" 100000 "$stops"
fi
