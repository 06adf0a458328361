#!/usr/bin/env bash
# Installs what the tests need from Debian's packages, and nothing that is there.
set -euo pipefail
need=()
/usr/bin/python3 -c 'import scipy' 2>/dev/null || need+=(python3-scipy)
command -v chromium >/dev/null || need+=(chromium)
command -v pdftotext >/dev/null || need+=(poppler-utils)
fc-list 2>/dev/null | grep -qi dejavu || need+=(fontconfig fonts-dejavu-core)
command -v glpsol >/dev/null || need+=(glpk-utils)
command -v cbc >/dev/null || need+=(coinor-cbc)
[ ${#need[@]} -eq 0 ] && exit 0
sudo=""
[ "$(id -u)" -eq 0 ] || sudo=sudo
echo "installing: ${need[*]}"
$sudo apt-get update -qq
DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends "${need[@]}" >/dev/null
