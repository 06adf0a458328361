#!/usr/bin/env bash
# Installs what the tests need from Debian's and npm's packages, and nothing that
# is there.
set -euo pipefail
cd "$(dirname "$0")/.."
need=()
/usr/bin/python3 -c 'import scipy' 2>/dev/null || need+=(python3-scipy)
command -v chromium >/dev/null || need+=(chromium)
command -v pdftotext >/dev/null || need+=(poppler-utils)
command -v g++ >/dev/null || need+=(g++)
[ -d /usr/include/CGAL ] || need+=(libcgal-dev)
/usr/bin/python3 -c 'import networkx' 2>/dev/null || need+=(python3-networkx)
command -v glpsol >/dev/null || need+=(glpk-utils)
command -v cbc >/dev/null || need+=(coinor-cbc)
[ -d /usr/share/fonts/truetype/dejavu ] || need+=(fontconfig fonts-dejavu-core)
if [ ${#need[@]} -gt 0 ]; then
  sudo=""
  [ "$(id -u)" -eq 0 ] || sudo=sudo
  echo "installing: ${need[*]}"
  $sudo apt-get update -qq
  DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends "${need[@]}" >/dev/null
fi
# A public mesh and the validator of the glTF format, into the ignored folder build.
if [ ! -d build/node_modules/bunny ] || [ ! -d build/node_modules/gltf-validator ]; then
  mkdir -p build
  npm install --prefix build --no-audit --no-fund --silent --no-save bunny@1.0.1 gltf-validator@2.0.0-dev.3.10
fi
