#!/usr/bin/env bash
# Sees to it that the tools the tests need are there: finds them, or installs them where that needs no question
# (root on a machine with apt-get), or stops with the one command to type.
#
#   deploy/tools/ensure.sh                     all of them
#   deploy/tools/ensure.sh postgresql chromium only these
set -euo pipefail

oldest_postgresql=15

have() { command -v "$1" >/dev/null 2>&1; }

# True if a PostgreSQL that is new enough is along the path or where Debian, Red Hat and Homebrew put it.
have_postgresql() {
  local dir version
  local dirs=()
  IFS=: read -r -a dirs <<<"${PATH}"
  for dir in "${dirs[@]}" /usr/lib/postgresql/*/bin /usr/pgsql-*/bin /opt/homebrew/opt/postgresql@*/bin \
    /usr/local/opt/postgresql@*/bin /home/linuxbrew/.linuxbrew/opt/postgresql@*/bin; do
    [[ -x "$dir/postgres" ]] || continue
    version=$("$dir/postgres" --version 2>/dev/null) || continue
    if [[ "$version" =~ \(PostgreSQL\)\ ([0-9]+) ]] && ((BASH_REMATCH[1] >= oldest_postgresql)); then
      return 0
    fi
  done
  return 1
}

have_chromium() {
  local name
  for name in chromium chromium-browser google-chrome-stable google-chrome; do
    if have "$name"; then return 0; fi
  done
  [[ -x "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome" || -x "/Applications/Chromium.app/Contents/MacOS/Chromium" ]]
}

present() {
  case "$1" in
    postgresql) have_postgresql ;;
    chromium) have_chromium ;;
    zbar-tools) have zbarimg ;;
    poppler-utils) have pdftoppm && have pdftotext ;;
    openssl) have openssl ;;
    *)
      echo "ensure: unknown tool '$1'; there are postgresql, chromium, zbar-tools, poppler-utils and openssl" >&2
      exit 2
      ;;
  esac
}

# The name of a tool's Homebrew formula.
formula() {
  case "$1" in
    postgresql) echo "postgresql@17" ;;
    zbar-tools) echo zbar ;;
    poppler-utils) echo poppler ;;
    chromium) echo "--cask chromium" ;;
  esac
}

missing_of() {
  local tool
  for tool in "$@"; do
    if ! present "$tool"; then echo "$tool"; fi
  done
}

# The one command that installs all of the given tools, right also where no list of packages was ever fetched.
command_for() {
  local tool parts="" install="apt-get install -y $*"
  if [[ "$(uname -s)" == Darwin ]]; then
    for tool in "$@"; do parts="${parts:+$parts && }brew install $(formula "$tool")"; done
    echo "$parts"
  elif [[ $EUID -eq 0 ]]; then
    echo "apt-get update && $install"
  elif have sudo; then
    echo "sudo apt-get update && sudo $install"
  else
    # Debian has no sudo unless it was asked for; "-" gives root's own path, without which dpkg stops.
    echo "su - -c 'apt-get update && $install'"
  fi
}

tools=("$@")
if ((${#tools[@]} == 0)); then
  tools=(postgresql chromium zbar-tools poppler-utils openssl)
fi
for tool in "${tools[@]}"; do present "$tool" || true; done # stops at an unknown name

missing=($(missing_of "${tools[@]}")) # names without spaces; the old bash of macOS has no mapfile
if ((${#missing[@]} == 0)); then
  exit 0
fi

if [[ $EUID -eq 0 ]] && have apt-get; then
  echo "Installing ${missing[*]} with apt-get." >&2
  export DEBIAN_FRONTEND=noninteractive
  apt-get update -q >&2 || echo "apt-get update failed; going on with the lists already here." >&2
  if apt-get install -q -y --no-install-recommends "${missing[@]}" >&2; then
    missing=($(missing_of "${tools[@]}"))
  fi
fi

if ((${#missing[@]} > 0)); then
  echo "Missing: ${missing[*]}. Nothing was started. Type this, then start again:" >&2
  echo >&2
  echo "    $(command_for "${missing[@]}")" >&2
  echo >&2
  exit 1
fi
