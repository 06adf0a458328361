#!/usr/bin/env bash
# Installs what the outside checks need, from Debian's or Ubuntu's packages and
# npm's, and Go modules, and nothing that is there; without network when all is there. What cannot
# be installed here is written to build/absent, a line each: what is missing, and
# the tests that need it. With FETTLE_ALL set, anything missing fails.
set -euo pipefail
cd "$(dirname "$0")/.."
go=${GO:-go}
mkdir -p build
: >build/absent

has() {
  case $1 in
  scipy | networkx) /usr/bin/python3 -c "import $1" 2>/dev/null ;;
  cgal) command -v g++ >/dev/null && [ -d /usr/include/CGAL ] ;;
  postgresql) compgen -G "/usr/lib/postgresql/*/bin/initdb" >/dev/null ;;
  fonts) [ -d /usr/share/fonts/truetype/dejavu ] ;;
  meshes) [ -d build/meshes ] || command -v apt-get >/dev/null ;;
  npm) [ -d build/node_modules/bunny ] && [ -d build/node_modules/gltf-validator ] && command -v node >/dev/null || command -v npm >/dev/null ;;
  client) [ -d build/client/node_modules/openapi-typescript ] && command -v node >/dev/null || command -v npm >/dev/null ;;
  s3server | oidcserver) [ -x "build/$1" ] || command -v "$go" >/dev/null ;;
  convert) command -v convert-im6.q16 >/dev/null || command -v convert-im7.q16 >/dev/null || convert -version 2>/dev/null | grep -q '^Version: ImageMagick' ;; # others are called so too
  *) command -v "$1" >/dev/null ;;
  esac
}

# What is asked for, the packages that bring it, and the tests that need it.
table='scipy python3-scipy TestOutsideSciPyRecomputesTheFit|TestOutsideSciPyFreeNetworks|TestOutsideTimeCostFrontSciPy
networkx python3-networkx TestOutsideCriticalPathNetworkxSeeds
chromium chromium TestOutsideNamesAreRefused|TestOutsideFirstUseInABrowser|TestOutsideReportPrints|TestOutsideDaySheetsPrint|TestOutsideLengthsPrintOnOnePage|TestOutsidePagesFitANarrowWindow
pdftotext poppler-utils TestOutsideReportPrints|TestOutsideDaySheetsPrint|TestOutsideLengthsPrintOnOnePage
fonts fontconfig,fonts-dejavu-core TestOutsideReportPrints|TestOutsideDaySheetsPrint|TestOutsideLengthsPrintOnOnePage|TestOutsidePagesFitANarrowWindow
cgal g++,libcgal-dev TestOutside.*CGAL
glpsol glpk-utils TestOutsideOpening.*|TestOutsideRoutes.*|TestOutsideCho.*|TestOutsideSelections|TestOutsideLargeJobs
cbc coinor-cbc TestOutsideOpening.*|TestOutsideRoutes.*|TestOutsideCho.*|TestOutsideSelections|TestOutsideLargeJobs
qemu-aarch64-static qemu-user-static TestOutsideSameBytes|TestOutsidePicturesSameBytes
convert imagemagick TestOutsidePicturesTurned|TestOutsidePicturesHEIC.*|TestOutsidePicturesOf.*|TestOutsidePicturesProfiles
heif-enc libheif-examples TestOutsidePicturesTurned|TestOutsidePicturesHEIC.*|TestOutsidePicturesOf.*
exiftool libimage-exiftool-perl TestOutsidePicturesTurned|TestOutsidePicturesHEIC.*
cwebp webp TestOutsidePicturesTurned|TestOutsidePicturesOfKinds
postgresql postgresql Test.*PostgreSQL.*
openssl openssl TestOutsideNamesAreRefused
curl curl TestOutsideNamesAreRefused
certutil libnss3-tools TestOutsideNamesAreRefused
systemd-analyze systemd TestOutsideServiceIsCaged
bwrap bubblewrap TestOutsideContainerHasAllItNeeds
client npm TestOutsideClientTakesTheJob
npm npm TestOutsideValidator.*|TestOutsidePublicMesh.*|TestOutside.*PublicMesh|TestOutsideExactDistancesMatchCGAL
s3server s3server TestOutsideS3.*
oidcserver oidcserver TestOutsideProvider
meshes libcgal-demo TestOutside.*PublicMeshes'

# offered keeps the packages that apt knows: Ubuntu has Chromium as a snap only, and one
# unknown package would stop all. All of them where apt has no lists yet.
offered() {
  local p some=()
  for p in "$@"; do
    ! apt-cache show "$p" >/dev/null 2>&1 || some+=("$p")
  done
  echo "${some[*]:-$*}"
}

need=()
while read -r what packages _; do
  has "$what" || need+=(${packages//,/ })
done <<<"$table"

if [ ${#need[@]} -gt 0 ] && command -v apt-get >/dev/null; then
  sudo=""
  if [ "$(id -u)" -ne 0 ]; then
    if command -v sudo >/dev/null && sudo -n true 2>/dev/null; then sudo="sudo -n"; else sudo=none; fi
  fi
  if [ "$sudo" = none ]; then
    echo "for the checks against other programs an administrator runs, once:"
    echo "  apt-get update && apt-get install -y --no-install-recommends $(offered "${need[@]}")"
  else
    $sudo apt-get update -qq || true # without it the packages may still be at hand
    packages=$(offered "${need[@]}")
    # The server is for the tests, which start their own: none is to run beside them.
    if [[ " $packages " = *" postgresql "* ]] && [ ! -e /etc/postgresql-common/createcluster.conf ]; then
      $sudo mkdir -p /etc/postgresql-common
      echo "create_main_cluster = false" | $sudo tee /etc/postgresql-common/createcluster.conf >/dev/null
    fi
    echo "installing: $packages"
    # shellcheck disable=SC2086 # a word each
    DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends $packages >/dev/null ||
      echo "not everything could be installed; what is missing is left out"
  fi
fi
# A public mesh and the validator of the glTF format, into the ignored folder build.
if [ ! -d build/node_modules/bunny ] || [ ! -d build/node_modules/gltf-validator ]; then
  if command -v npm >/dev/null; then
    echo "installing: bunny, gltf-validator (npm), into build/node_modules"
    npm install --prefix build --no-audit --no-fund --silent --no-save bunny@1.0.1 gltf-validator@2.0.0-dev.3.10 ||
      echo "npm could not bring the public mesh and the validator; the checks that need them are left out"
  fi
fi

# What makes a client of the description of the routes, and compiles a program with it.
if [ ! -d build/client/node_modules/openapi-typescript ] || ! cmp -s tools/client/package-lock.json build/client/package-lock.json; then
  if command -v npm >/dev/null; then
    echo "installing: openapi-typescript, typescript (npm), into build/client"
    mkdir -p build/client && cp tools/client/package.json tools/client/package-lock.json build/client/ &&
      npm ci --prefix build/client --no-audit --no-fund --silent ||
      { rm -rf build/client && echo "npm could not bring them; the check that needs them is left out"; }
  fi
fi

# More public meshes, out of a package that is fetched and not installed.
if [ ! -d build/meshes ] && command -v apt-get >/dev/null; then
  echo "fetching: libcgal-demo (public meshes), into build/meshes"
  scripts/public-meshes.sh || echo "the public meshes could not be fetched; the checks that need them are left out"
fi

# An S3 server that checks who asks: a module of its own, so that what it needs weighs on nothing else.
if [ ! -x build/s3server ] || [ tools/s3/go.mod -nt build/s3server ]; then
  echo "building: an S3 server, into build/s3server (minutes, once)"
  CGO_ENABLED=0 $go build -C tools/s3 -ldflags '-s -w' -o ../../build/s3server github.com/versity/versitygw/cmd/versitygw ||
    echo "the S3 server could not be built; the checks that need it are left out"
fi

# A provider of OpenID Connect, likewise.
if [ ! -x build/oidcserver ] || [ tools/provider/go.mod -nt build/oidcserver ] || [ tools/provider/main.go -nt build/oidcserver ]; then
  echo "building: a provider of OpenID Connect, into build/oidcserver"
  CGO_ENABLED=0 $go build -C tools/provider -ldflags '-s -w' -o ../../build/oidcserver . ||
    echo "the provider could not be built; the check that needs it is left out"
fi

while read -r what packages tests; do
  if ! has "$what" || { [ "$what" = npm ] && [ ! -d build/node_modules/bunny ]; } || { [ "$what" = client ] && [ ! -d build/client/node_modules/openapi-typescript ]; } || { [ "$what" = meshes ] && [ ! -d build/meshes ]; } || { [[ $what = s3server || $what = oidcserver ]] && [ ! -x "build/$what" ]; }; then
    printf '%s\t%s\n' "${packages%%,*}" "$tests" >>build/absent
  fi
done <<<"$table"
if [ -s build/absent ]; then
  if [ -n "${FETTLE_ALL:-}" ]; then
    echo "missing: $(cut -f1 build/absent | sort -u | paste -sd' ' -)"
    exit 1
  fi
else
  rm -f build/absent
fi
