#!/usr/bin/env bash
# run.sh BUILD_DIR SECONDS: runs every fuzz target for SECONDS on its seeds. Fails on a finding, whose input is left in
# BUILD_DIR/fuzz/. New inputs stay in BUILD_DIR/fuzz/corpus/ and are used again by the next run.
set -eu
[ $# -eq 2 ] || { echo "usage: $0 BUILD_DIR SECONDS" >&2; exit 2; }
build=$1
seconds=$2
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
failed=0

for name in shot_json shot_binary edit yaml gltf budget; do
  target=$build/bin/fuzz_$name
  [ -x "$target" ] || { echo "fuzz: no $target; build scantling_fuzzers first" >&2; exit 2; }
  grown=$build/fuzz/corpus/$name
  mkdir -p "$grown"
  seeds=("$here/corpus/$name")
  [ "$name" = yaml ] && seeds+=("$root/config" "$root/config/style")
  log=$build/fuzz/$name.log
  if "$target" -max_total_time="$seconds" -timeout=10 -rss_limit_mb=2048 -max_len=65536 -print_final_stats=1 \
      -artifact_prefix="$build/fuzz/$name-" "$grown" "${seeds[@]}" >"$log" 2>&1; then
    echo "fuzz: $name: $(sed -n 's/^stat::number_of_executed_units: *//p' "$log") runs, no finding"
  else
    echo "fuzz: $name: FOUND, see $log" >&2
    tail -n 40 "$log" >&2
    failed=1
  fi
done
exit $failed
