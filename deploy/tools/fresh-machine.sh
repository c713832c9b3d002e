#!/usr/bin/env bash
# Tries the two commands of the README on a Debian that has nothing: no PostgreSQL, no browser, no code readers, no sudo.
#
#   deploy/tools/fresh-machine.sh            everything: it builds and tests all of it from nothing, which takes its time
#   deploy/tools/fresh-machine.sh run        `make run` only, as a plain user and as root
#
# It makes a Debian in a temporary folder with debootstrap, gives it Go, make, git and a clone of what is committed here,
# and works in it with namespaces of its own for mounts and processes. All of it is gone at the end.
#
# What it proves: that the commands bring what they need on this Debian and this processor, or stop with a command that
# does when typed as printed. What it doesn't: it is this machine's kernel, without systemd; Go and the modules are this
# machine's; packages come from the archive this machine uses, over its network.
#
# FRESH_SUITE, FRESH_MIRROR   the Debian to make (this machine's, or bookworm from deb.debian.org)
# FRESH_PORT                  where its demo shop answers (8600)
# FRESH_KEEP_LOGS             a folder to keep the logs in
set -euo pipefail

say() { printf '\n== %s\n' "$*"; }
fail() {
  printf 'fresh-machine: %s\n' "$*" >&2
  if [[ -n "${logs:-}" && -n "${log:-}" ]]; then tail -n 30 "$log" >&2; fi
  exit 1
}
now() { date +%s.%N; }
since() { awk -v a="$1" -v b="$(now)" 'BEGIN { printf "%.1f s", b - a }'; }

if [[ $EUID -ne 0 ]] || ! command -v debootstrap >/dev/null; then
  echo "fresh-machine: this needs root and debootstrap (apt-get install debootstrap); nothing was made." >&2
  exit 1
fi

part=${1:-all}
case "$part" in
  all | run) ;;
  *) fail "there is no part '$part': leave it out for everything, or say run" ;;
esac
port=${FRESH_PORT:-8600}

# Outside: a folder that goes, whatever happens, and namespaces that take mounts and processes with them.
if [[ -z "${FRESH_INSIDE:-}" ]]; then
  FRESH_INSIDE=$(mktemp -d "${TMPDIR:-/tmp}/fresh-machine-XXXXXX")
  export FRESH_INSIDE
  trap 'rm -rf --one-file-system "$FRESH_INSIDE"' EXIT
  trap 'exit 130' INT TERM
  unshare --mount --propagation private --pid --mount-proc --fork --kill-child bash "$0" "$@"
  exit
fi

repository=$(git -C "$(dirname "$0")" rev-parse --show-toplevel)
base=$FRESH_INSIDE/debian
logs=${FRESH_KEEP_LOGS:-$FRESH_INSIDE/logs}
mkdir -p "$logs"
suite=${FRESH_SUITE:-$(. /etc/os-release && [[ "$ID" == debian ]] && echo "$VERSION_CODENAME" || echo bookworm)}
mirror=${FRESH_MIRROR:-http://deb.debian.org/debian}
goroot=$(go env GOROOT)
modules=$(go env GOMODCACHE)/cache/download

make_debian() {
  log=$logs/debootstrap
  debootstrap --variant=minbase --include=ca-certificates,git,make "$suite" "$base" "$mirror" >"$log" 2>&1 || fail "debootstrap failed"
  cp -a "$goroot" "$base/usr/local/go"
  cp /etc/resolv.conf "$base/etc/resolv.conf"
  mkdir "$base/modules"
  chroot "$base" useradd --create-home --shell /bin/bash plain
  chroot "$base" passwd --quiet --delete root # so that `su` in a printed command asks nothing
}

# A machine is a copy of that Debian with a clone of the repository, for one person: root or plain.
machine() { # NAME WHO
  name=$1 who=$2 root=$FRESH_INSIDE/$1
  cp -a "$base" "$root"
  home=/root
  if [[ "$who" == plain ]]; then home=/home/plain; fi
  git clone --quiet --no-hardlinks "$repository" "$root$home/tagalong"
  chroot "$root" chown -R "$who:$who" "$home/tagalong"
  mount -t proc proc "$root/proc"
  mount --rbind /sys "$root/sys"
  mount --rbind /dev "$root/dev"
  mount -t tmpfs -o mode=1777 tmpfs "$root/dev/shm"
  mount --bind "$modules" "$root/modules"
  local tool
  for tool in postgres chromium zbarimg pdftotext sudo; do
    if chroot "$root" sh -c "command -v $tool" >/dev/null || compgen -G "$root/usr/lib/postgresql/*" >/dev/null; then
      fail "$tool is there already: this is no fresh machine"
    fi
  done
}

# inside runs a command in the clone, as that machine's person; with the modules of this machine instead of a download.
inside() {
  local path=/usr/local/go/bin:/usr/local/bin:/usr/bin:/bin
  if [[ "$who" == root ]]; then path=$path:/usr/local/sbin:/usr/sbin:/sbin; fi
  chroot --userspec="$who:$who" "$root" /usr/bin/env -i HOME="$home" USER="$who" PATH="$path" LANG=C.UTF-8 \
    GOPROXY=file:///modules GOSUMDB=off GOTOOLCHAIN=local TAGALONG_LISTEN="127.0.0.1:$port" \
    /bin/bash -c "cd ~/tagalong && $1"
}

page() { # PATH: the status of the answer, nothing where none answers
  { exec 3<>"/dev/tcp/127.0.0.1/$port"; } 2>/dev/null || return 0
  printf 'GET %s HTTP/1.0\r\nHost: 127.0.0.1:%s\r\n\r\n' "$1" "$port" >&3
  local status=""
  read -r -t 20 _ status _ <&3 || true
  exec 3>&-
  echo "$status"
}

# opens runs `make run`, waits for the first page, stops it as Ctrl-C does, and looks whether anything was left running.
opens() { # WHAT
  log=$logs/$name-run-$SECONDS
  [[ -z "$(page /healthz)" ]] || fail "something answers on port $port already: choose another with FRESH_PORT"
  local began
  began=$(now)
  set -m # a process group of its own, for Ctrl-C
  inside 'exec make run' >"$log" 2>&1 &
  local job=$!
  set +m
  until [[ "$(page /demo)" == 200 ]]; do
    kill -0 "$job" 2>/dev/null || fail "make run ended without a page"
    sleep 0.1
  done
  printf '%-64s first page after %s\n' "$1" "$(since "$began")"
  kill -INT -- "-$job"
  wait "$job" || true # make says that it was interrupted
  if pgrep -f "postgres -D $home|postgres -D /var/lib/tagalong" >/dev/null; then fail "its PostgreSQL runs on"; fi
  [[ -z "$(page /healthz)" ]] || fail "it answers on"
}

# stops runs a command that must stop with the one command to type, and types that, as printed.
stops() { # COMMAND
  log=$logs/$name-stops-$SECONDS
  if inside "$1" >"$log" 2>&1; then fail "$1 went on without what it needs"; fi
  local typed
  typed=$(sed -n 's/^    \(.*apt-get.*\)$/\1/p' "$log")
  [[ $(wc -l <<<"$typed") -eq 1 && -n "$typed" ]] || fail "$1 doesn't stop with one command to type"
  printf '%-64s %s\n' "$1, as a plain user, stops with" "$typed"
  log=$logs/$name-typed-$SECONDS
  local began
  began=$(now)
  inside "$typed" >"$log" 2>&1 || fail "the command doesn't work as printed: $typed"
  printf '%-64s %s\n' "  typed as printed it takes" "$(since "$began")"
}

tests() { # WHAT
  log=$logs/$name-test-$SECONDS
  local began
  began=$(now)
  inside 'make test' >"$log" 2>&1 || fail "make test failed"
  printf '%-64s passed after %s: %s packages\n' "$1" "$(since "$began")" "$(grep -c '^ok' "$log")"
}

say "A $suite with Go, make, git and $(git -C "$repository" rev-parse --short HEAD)"
began=$(now)
make_debian
echo "made in $(since "$began")"

say "A plain user"
machine plain-run plain
stops 'make run'
opens "make run, nothing built, nothing made"
opens "make run again"

say "Root"
machine root root
opens "make run, nothing installed, nothing built"
opens "make run again"

if [[ "$part" == all ]]; then
  tests "make test, as root: installs the rest"
  say "A plain user's tests"
  machine plain-test plain
  stops 'make test'
  tests "make test, as a plain user"
fi

say "Both commands do as the README says, on $suite $(dpkg --print-architecture)."
