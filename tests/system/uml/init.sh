#!/bin/bash
# The first process of the user-mode Linux that inside.sh starts; it lies in inside.sh's work folder beside command.sh.
work=$(dirname "$0")
export PATH=/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin

prepare() {
  mount -t proc proc /proc
  mount -t sysfs sysfs /sys
  mount -t devtmpfs devtmpfs /dev
  mkdir -p /dev/pts /dev/shm
  mount -t devpts -o ptmxmode=666 devpts /dev/pts
  ln -sf pts/ptmx /dev/ptmx
  ln -sf /proc/self/fd /dev/fd
  mount -t tmpfs tmpfs /dev/shm
  mount -t tmpfs tmpfs /run
  mkdir -p /run/lock
  # What meets here are processes of this kernel alone: sockets of the machine outside would all seem dead.
  mkdir -p /tmp/drystroke-stop-0 && mount -t tmpfs -o mode=755 tmpfs /tmp/drystroke-stop-0
  local modules=(net/can/can net/can/can-raw drivers/net/can/dev/can-dev drivers/net/can/vcan) kernel name
  [[ -n ${DRYSTROKE_SLCAN-} ]] && modules+=(drivers/net/can/slcan/slcan)
  kernel=/usr/lib/uml/modules/$(uname -r)/kernel
  for name in "${modules[@]}"; do insmod "$kernel/$name.ko" || return; done
  ip link set lo up || return
  for name in vcan0 vcan1; do ip link add "$name" type vcan && ip link set "$name" up || return; done
}

# Without a status file inside.sh shows the console, where this writes.
if prepare; then
  mkdir /run/tmp
  TMPDIR=/run/tmp bash "$work/command.sh" </dev/null >"$work/out" 2>"$work/err"
  echo $? >"$work/status"
fi
sync
halt -f
