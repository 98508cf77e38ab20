/**
 * Loaded into the bench process of a run before its own code (NODE_OPTIONS=--import), so that it can be brought to do what only
 * the process itself can do, at any moment: on SIGUSR2 it does the deed that DRYSTROKE_KILL_DEED names. Other processes of the
 * run load this as well and are left as they are.
 *
 * loop: loops for ever, at whatever priority it has. half: leaves half a line on the first of its lines and dies. flood: fills
 * its lines with frames that mean nothing, for ever, and never comes back to anything else.
 */
import { readdirSync, readlinkSync, writeSync } from 'node:fs'

/** Half of a frame as it stands on an slcan line. */
const HALF = 't2014AB'
const NOTHING = Buffer.from('t7F00\r'.repeat(1000))

const DEEDS = {
  loop: () => {
    for (;;);
  },
  half: () => {
    writeSync(lines()[0], HALF)
    process.kill(process.pid, 'SIGKILL')
  },
  flood: () => {
    for (const all = lines(); ; ) {
      for (const line of all) {
        try {
          writeSync(line, NOTHING)
        } catch (error) {
          if (error.code !== 'EAGAIN') throw error
        }
      }
    }
  },
}

const deed = DEEDS[process.env.DRYSTROKE_KILL_DEED]
if (deed && process.argv[1]?.endsWith('/bench/realtime/main.js')) process.on('SIGUSR2', deed)

/** Descriptors of the lines to the adapters: TCP connections and pseudo-terminals. */
function lines() {
  const sockets = process
    ._getActiveHandles()
    .filter((h) => h.remotePort !== undefined)
    .map((h) => h._handle.fd)
  const ports = readdirSync('/proc/self/fd').filter((fd) => fd > 2 && isPort(fd))
  return [...sockets, ...ports.map(Number)].toSorted((a, b) => a - b)
}

function isPort(fd) {
  try {
    return readlinkSync(`/proc/self/fd/${fd}`).startsWith('/dev/pts/')
  } catch {
    // The one by which the folder was read.
    return false
  }
}
