# Sourced by demo/run, tests/run and .ci/run: finds Python, makes the virtual
# environment and installs the package into it. A run that finds all of it in place
# changes nothing and needs no network.
#
# After `prepare_environment plain` or `prepare_environment test`, $repo is the folder
# of the project and $venv_python the interpreter to use. FILLWORK_VENV moves the
# environment from .venv to another folder.

repo=$(cd -- "$(dirname -- "${BASH_SOURCE[0]}")/.." && pwd -P)
venv=${FILLWORK_VENV:-$repo/.venv}
case $venv in /*) ;; *) venv=$PWD/$venv ;; esac
venv_python=$venv/bin/python
stamp=$venv/fillwork-installed
missing=() # Debian packages still to install

# Settings of the caller that would make Python or pip look, or install, elsewhere.
unset PYTHONHOME PYTHONPATH PIP_TARGET PIP_PREFIX PIP_USER PIP_REQUIRE_HASHES

say() { printf '%s\n' "$*" >&2; }

is_recent() { # COMMAND: does it run, and is it Python 3.11 or newer?
  command -v "$1" >/dev/null 2>&1 &&
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

can_make_venv() { # COMMAND; Debian's own Python lacks ensurepip until it is installed
  "$1" -c 'import ensurepip, venv' >/dev/null 2>&1
}

find_python() { # sets $python, if possible to one that can make an environment
  local name
  python=
  for name in python3 /usr/bin/python3 python3.13 python3.12 python3.11 python3.14 python; do
    is_recent "$name" || continue
    python=${python:-$name}
    if can_make_venv "$name"; then
      python=$name
      break
    fi
  done
  [ -n "$python" ]
}

find_chromium() { # sets and exports FILLWORK_CHROMIUM
  local name
  for name in "${FILLWORK_CHROMIUM:-}" chromium chromium-browser google-chrome google-chrome-stable; do
    if [ -n "$name" ] && command -v "$name" >/dev/null 2>&1; then
      FILLWORK_CHROMIUM=$(command -v "$name")
      export FILLWORK_CHROMIUM
      return 0
    fi
  done
  return 1
}

has_library() { # NAME: known to the linker, or no way to tell
  local list
  list=$(PATH=$PATH:/usr/sbin:/sbin ldconfig -p 2>/dev/null) || return 0
  [[ $list == *"$1"* ]]
}

note_missing() { # MODE: fills $missing with what this machine lacks
  missing=()
  if ! venv_works && ! { find_python && can_make_venv "$python"; }; then
    case $python in
      '') missing+=(python3 python3-venv) ;;
      python3.*) missing+=("$python-venv") ;;
      *) missing+=(python3-venv) ;;
    esac
  fi
  if [ "$1" = test ] && ! find_chromium; then
    missing+=(chromium fonts-dejavu-core)
  fi
  if [ "$1" = test ] && ! has_library libatomic.so.1; then
    missing+=(libatomic1) # the driver that steers the browser needs it
  fi
}

install_missing() { # MODE
  note_missing "$1"
  [ ${#missing[@]} -gt 0 ] || return 0
  if [ "$(id -u)" != 0 ] || ! command -v apt-get >/dev/null 2>&1; then
    say "Missing on this machine, as Debian names them: ${missing[*]}"
    say "Install them, for instance with: sudo apt-get install ${missing[*]}"
    exit 1
  fi
  say "Installing Debian packages: ${missing[*]} ..."
  local log
  log=$(mktemp)
  if ! {
    apt-get update -qq &&
      DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}"
  } >"$log" 2>&1 </dev/null; then
    tail -n 20 "$log" >&2
    rm -f "$log"
    say "apt-get could not install: ${missing[*]}"
    exit 1
  fi
  rm -f "$log"
  note_missing "$1"
  if [ ${#missing[@]} -gt 0 ]; then
    say "Still missing: ${missing[*]} (Python 3.11 or newer is needed)"
    exit 1
  fi
}

venv_works() {
  [ -x "$venv_python" ] && is_recent "$venv_python" && "$venv_python" -m pip --version >/dev/null 2>&1
}

digest_of() { # FILES AND FOLDERS of the project: one digest of names and contents
  (cd -- "$repo" && find "$@" -type f ! -name '*.pyc' -print0 | LC_ALL=C sort -z |
    xargs -0 sha256sum | sha256sum | cut -d ' ' -f 1)
}

wanted_stamp() { # MODE
  if [ "$1" = test ]; then # editable: the sources are read where they stand
    printf 'test %s %s\n' "$(digest_of pyproject.toml)" "$repo -> $venv"
  else
    printf 'plain %s %s\n' "$(digest_of pyproject.toml fillwork palettes)" "$repo -> $venv"
  fi
}

is_up_to_date() { # MODE; an environment for the tests serves the demo as well
  [ -f "$stamp" ] && venv_works || return 1
  local found
  found=$(cat -- "$stamp")
  [ "$found" = "$(wanted_stamp "$1")" ] || [ "$found" = "$(wanted_stamp test)" ]
}

make_venv() {
  if venv_works && ! { [ -f "$stamp" ] && grep -q '^unfinished' "$stamp"; } &&
    ! { [ -f "$stamp" ] && ! grep -qF -- "$repo -> $venv" "$stamp"; }; then
    return 0
  fi
  if [ -e "$venv" ] && [ ! -f "$venv/pyvenv.cfg" ] && [ -n "$(ls -A -- "$venv" 2>/dev/null)" ]; then
    say "$venv is in the way: it is not a virtual environment. Move it, or name another folder in FILLWORK_VENV."
    exit 1
  fi
  say "Making the environment in $venv ..."
  rm -rf -- "$venv"
  "$python" -m venv "$venv"
}

prepare_environment() { # plain or test
  if command -v flock >/dev/null 2>&1; then # one set-up at a time
    exec 9<"$repo/pyproject.toml"
    flock -w 1800 9
  fi
  install_missing "$1"
  if ! is_up_to_date "$1"; then
    find_python || true
    make_venv
    say "Installing fillwork and what it needs (a few minutes the first time) ..."
    printf 'unfinished\n' >"$stamp"
    local what=("$repo")
    [ "$1" = test ] && what=(--editable "$repo[test]")
    if ! "$venv_python" -m pip install --quiet --disable-pip-version-check --no-input \
      --root-user-action=ignore "${what[@]}" >&2; then
      say "pip could not install fillwork; the lines above say why. A network is needed the first time."
      exit 1
    fi
    wanted_stamp "$1" >"$stamp"
  fi
  if command -v flock >/dev/null 2>&1; then
    flock -u 9
    exec 9<&-
  fi
}
