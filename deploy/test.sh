#!/usr/bin/env bash
# Installs what is missing, builds, and runs every test. Ends with the test runner's summary.
#   deploy/test.sh          the form CI runs: tests, short sanitizer runs of what does not touch gRPC, 30 s a fuzz target
#   deploy/test.sh --long   also clang-tidy, and the whole suite under address and undefined-behaviour sanitizers
set -eu
cd "$(dirname "$0")/.."
long=0
[ "${1:-}" = --long ] && long=1
jobs=$(nproc)
fuzz_seconds=${FUZZ_SECONDS:-30}
deploy/install.sh build test

echo "== formatting"
git ls-files '*.cc' '*.h' | xargs clang-format --dry-run --Werror

echo "== build"
cmake --preset release -DSCANTLING_TESTS=ON >/dev/null
cmake --build --preset release -j "$jobs"

echo "== stages under ThreadSanitizer"
cmake --preset tsan >/dev/null
cmake --build --preset tsan -j "$jobs" --target scantling_stage_tests
ctest --test-dir build/tsan --no-tests=error --output-on-failure -j "$jobs" -L stage -LE slow --quiet

if [ "$long" = 1 ]; then
  echo "== everything under AddressSanitizer and UndefinedBehaviorSanitizer"
  cmake --preset asan >/dev/null
  cmake --build --preset asan -j "$jobs"
  ctest --test-dir build/asan --no-tests=error --output-on-failure -j "$jobs"
  echo "== clang-tidy"
  command -v clang-tidy >/dev/null || { echo "test.sh: --long needs the package clang-tidy" >&2; exit 1; }
  git ls-files 'server/*.cc' 'client/*.cc' | xargs -P "$jobs" -n 8 clang-tidy --quiet -p build/release
fi

echo "== fuzzing under AddressSanitizer and UndefinedBehaviorSanitizer, $fuzz_seconds s a target"
cmake --preset fuzz >/dev/null
cmake --build --preset fuzz -j "$jobs" --target scantling_fuzzers
tests/fuzz/run.sh build/fuzz "$fuzz_seconds"

echo "== tests"
ctest --test-dir build/release --no-tests=error --output-on-failure -j "$jobs"
