#!/usr/bin/env bash
# Tries the two commands of the README where next to nothing is installed: on a
# minimal Debian with Go, git and make, made in a folder (as root; needs debootstrap
# and the network). The first command is tried as root and as an ordinary user, then
# the second as an ordinary user, who may install nothing, and as root.
#   scripts/minimal.sh [FOLDER]
set -euo pipefail
cd "$(dirname "$0")/.."
dir=${1:-$(mktemp -d)}
suite=${SUITE:-bookworm}
goroot=$(${GO:-go} env GOROOT)

[ -x "$dir/bin/bash" ] || debootstrap --variant=minbase --include=ca-certificates,git,make "$suite" "$dir" >"$dir.log"
cp /etc/resolv.conf "$dir/etc/resolv.conf"
cp "${SSL_CERT_FILE:-/etc/ssl/certs/ca-certificates.crt}" "$dir/etc/ssl/certs/ca-certificates.crt" # whom this machine trusts
mkdir -p "$dir/usr/local/go"
cp -a "$goroot/." "$dir/usr/local/go/"
for m in proc dev; do
  mountpoint -q "$dir/$m" || mount --rbind "/$m" "$dir/$m"
done
trap 'umount -l "$dir/proc" "$dir/dev"' EXIT
id=1234
chroot "$dir" useradd -m -d /srv/shop -u $id shop 2>/dev/null || true
for home in root srv/shop; do
  rm -rf "${dir:?}/$home/fettle"
  git clone -q --no-hardlinks . "$dir/$home/fettle"
done
chown -R $id:$id "$dir/srv/shop"

# try USER WORDS: a command in that user's clone.
try() {
  echo "== $1: $2"
  chroot "$dir" su - "$1" -c "cd fettle && PATH=/usr/local/go/bin:\$PATH HOME=\$HOME && export PATH && $2"
}
try root 'go run ./cmd/fettle demo'
try shop 'go run ./cmd/fettle demo'
try shop 'make test'
try root 'make test'
echo "both commands pass on a minimal Debian $suite"
