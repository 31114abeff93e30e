# Sourced, with a name: makes the environment of the packages pinned in requirements.txt of the folder one
# is in, in the user's cache, unless it is there. Sets $venv.
venv="${SETDRIFT_CACHE:-$HOME/.cache/setdrift}/reference-$1"
if ! cmp -s requirements.txt "$venv/requirements.txt"; then
  rm -rf "$venv"
  mkdir -p "$(dirname "$venv")"
  python3 -m venv "$venv"
  "$venv/bin/pip" install --quiet --disable-pip-version-check -r requirements.txt
  cp requirements.txt "$venv/requirements.txt"
fi
