#!/usr/bin/env bash
# Runs a command as root in user-mode Linux: a kernel of its own with CAN, on the files of this machine.
#
#     inside.sh [--slcan] [--real-time] [--limit SECONDS] COMMAND...
#
# The command finds lo, vcan0 and vcan1 up (--slcan also loads the kernel's driver for serial adapters), this folder as
# it is here, and a fresh empty TMPDIR in memory. Its output and exit status come back; after the limit, 60 s if none is
# given, everything of it is killed and the status is 137. Status 125: the kernel did not start or the command not end.
# --real-time: the kernel goes before other programs of this machine, where that is granted. Each system call in there is two
# switches of processes out here, and where others come in between, its seconds pass without its programs.
# Needs the Debian packages user-mode-linux, kmod and iproute2. One processor, slow system calls: allow time.
set -uo pipefail

slcan='' limit=60 before=()
while [[ ${1-} == --* ]]; do
  case $1 in
    --slcan) slcan=yes ;;
    --real-time) chrt --rr 5 true 2>/dev/null && before=(chrt --rr 5) ;;
    --limit) limit=$2 && shift ;;
    *) echo "inside.sh: unknown option $1; known: --slcan, --real-time, --limit SECONDS" >&2 && exit 2 ;;
  esac
  shift
done
[[ $# -gt 0 ]] || { echo 'inside.sh: no command' >&2 && exit 2; }
for program in linux.uml insmod ip timeout; do
  command -v "$program" >/dev/null && continue
  echo "inside.sh: $program is missing: apt-get install user-mode-linux kmod iproute2 coreutils" >&2 && exit 125
done

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
work=$(mktemp -d "${TMPDIR:-/tmp}/drystroke-uml-XXXXXX") || exit 125
kernel=''
trap '[[ -z $kernel ]] || kill -KILL "$kernel" 2>/dev/null; rm -rf "$work"' EXIT
trap 'exit 130' INT
trap 'exit 143' TERM HUP
# A path with a space would end the kernel's argument.
cp "$here/init.sh" "$work/init.sh"
{
  for name in PATH HOME LANG CI; do [[ -v $name ]] && printf 'export %s=%q\n' "$name" "${!name}"; done
  for name in "${!DRYSTROKE_@}"; do printf 'export %s=%q\n' "$name" "${!name}"; done
  printf 'cd %q || exit 125\n' "$PWD"
  printf 'exec'
  printf ' %q' "$@"
  echo
} >"$work/command.sh"
: >"$work/out" >"$work/err"

# In a process namespace of its own: the kernel's helper processes would outlive it when it is killed.
alone=(unshare --pid --fork --kill-child)
"${alone[@]}" true 2>/dev/null || alone=()
# The kernel's memory is a file: where there is room in memory for it no disk is written to.
memory=$work
[[ $(stat -fc '%T' /dev/shm 2>/dev/null) == tmpfs && -w /dev/shm ]] &&
  (($(df --output=avail -k /dev/shm | tail -n 1) > 3 << 20)) && memory=/dev/shm
# A processor with tile registers has more state than this kernel can carry from one of its processes to the next.
registers=()
if grep -qw amx_tile /proc/cpuinfo; then
  gcc -O2 -shared -fPIC -o "$work/registers.so" "$here/registers.c" || {
    echo 'inside.sh: on this processor the kernel needs registers.c, and that gcc: apt-get install gcc libc6-dev' >&2 && exit 125
  }
  registers=(env "LD_PRELOAD=$work/registers.so")
fi
# Unknown NAME=VALUE arguments of a kernel become the environment of its first process.
TMPDIR=$memory "${before[@]}" "${alone[@]}" timeout -s KILL "$limit" "${registers[@]}" linux.uml mem=2G "uml_dir=$work/" \
  root=/dev/root rootfstype=hostfs rootflags=/ rw "init=$work/init.sh" "DRYSTROKE_SLCAN=$slcan" \
  quiet con=null con0=fd:0,fd:1 </dev/null >"$work/console" 2>&1 &
kernel=$!
wait "$kernel" 2>/dev/null
ended=$?
kernel=''

cat "$work/out"
cat "$work/err" >&2
[[ -s $work/status ]] && exit "$(<"$work/status")"
if [[ $ended -eq 137 ]]; then
  echo "inside.sh: not done after $limit s, killed" >&2
  exit 137
fi
echo "inside.sh: the kernel ended with status $ended before the command did; its last words:" >&2
tail -n 20 "$work/console" >&2
exit 125
