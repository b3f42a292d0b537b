# Shared by the scripts of this folder: a Python, an environment, and plain words where something is missing.
# Source it from a script that has set `me` (its own name) and `top` (the repository).

say() { printf '%s: %s\n' "$me" "$*" >&2; }
die() { say "$*"; exit 1; }

# Print the command of a Python that is new enough, with venv and pip; say what is missing otherwise.
find_python() {
  local name newest=""
  for name in "${PYTHON:-}" python3.11 python3.12 python3.13 python3 python; do
    [ -n "$name" ] && command -v "$name" >/dev/null 2>&1 || continue
    newest="$("$name" -c 'import platform; print(platform.python_version())' 2>/dev/null)" || continue
    "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || continue
    if ! "$name" -c 'import venv, ensurepip' >/dev/null 2>&1; then
      die "$name ($newest) lacks the modules venv and ensurepip (on Debian: apt-get install python3-venv)"
    fi
    printf '%s\n' "$name"
    return
  done
  [ -n "$newest" ] && die "Python 3.11 or newer is needed; the newest found is $newest (PYTHON=... names another)"
  die "Python 3.11 or newer is needed, and no Python was found (PYTHON=... names one)"
}

# make_environment FOLDER FILE...: an environment that holds just what the requirement files pin; made when missing,
# brought up to date when a file has changed.
make_environment() {
  local folder="$1" python stamp wanted log
  shift
  stamp="$folder/requirements.sum"
  wanted="$(cat "$@" | cksum)"
  [ -f "$stamp" ] && [ "$(cat "$stamp")" = "$wanted" ] && return
  if [ ! -x "$folder/bin/python" ]; then
    python="$(find_python)" || exit 1
    say "making ${folder#"$top"/} (once; this takes a minute or two)"
    "$python" -m venv "$folder" || die "the environment could not be made in $folder"
  else
    say "bringing ${folder#"$top"/} up to date"
  fi
  log="$folder/install.log"
  local file arguments=()
  for file in "$@"; do arguments+=(-r "$file"); done
  if ! "$folder/bin/python" -m pip install --disable-pip-version-check --quiet "${arguments[@]}" >"$log" 2>&1; then
    tail -n 5 "$log" >&2
    die "the pinned packages could not be installed; is there a network? (all of it: $log)"
  fi
  printf '%s\n' "$wanted" >"$stamp"
}
