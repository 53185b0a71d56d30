#!/usr/bin/env bash
# Installs the Debian packages a step needs, and only those that are missing.
#   deploy/install.sh build          what building takes
#   deploy/install.sh build test     and what the tests take
# As root, or with sudo. A machine that has everything is left alone: no network is touched.
set -eu

build="g++ cmake ninja-build pkgconf protobuf-compiler protobuf-compiler-grpc libprotobuf-dev libgrpc++-dev
  libspdlog-dev libyaml-cpp-dev libcli11-dev libhwy-dev libtinygltf-dev nlohmann-json3-dev"
test="libgtest-dev libgmock-dev libbenchmark-dev libimath-dev libembree-dev coinor-cbc assimp-utils assimp-testmodels
  python3-grpcio python3-protobuf nodejs npm sumo sumo-tools clang libclang-rt-14-dev clang-format git"

wanted=""
for set in "$@"; do
  case "$set" in
    build) wanted="$wanted $build" ;;
    test) wanted="$wanted $test" ;;
    *) echo "install.sh: unknown set '$set', want build or test" >&2; exit 2 ;;
  esac
done

# Whether a package, or what it is wanted for, is there. Node from elsewhere brings its own npm, and Debian's would not
# stand beside it.
is_there() {
  case "$1" in
    nodejs) ! command -v node >/dev/null || return 0 ;;
    npm) ! command -v npm >/dev/null || return 0 ;;
  esac
  [ "$(dpkg-query -W -f='${db:Status-Status}' "$1" 2>/dev/null)" = installed ]
}

missing=""
for package in $wanted; do
  is_there "$package" || missing="$missing $package"
done
[ -n "$missing" ] || exit 0

echo "installing:$missing" >&2
as_root=""
if [ "$(id -u)" != 0 ]; then
  command -v sudo >/dev/null || { echo "install.sh: need root or sudo to install:$missing" >&2; exit 1; }
  as_root="sudo"
fi
export DEBIAN_FRONTEND=noninteractive
$as_root apt-get update -qq
# shellcheck disable=SC2086  # a list of package names
$as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >&2
