/**
 * Tests of real processes in real time, on TCP and pseudo-terminals. A machine that is busy otherwise can make them fail, and
 * they take as long as time itself, so they have a command of their own: npm run test:processes. `.ci/run` runs it too.
 */
export const PROCESSES = [
  'tests/system/bench-killed.test.ts',
  'tests/system/guardian.test.ts',
  'tests/system/held-key.test.ts',
  'tests/system/jog.test.ts',
  'tests/system/own-driver-live.test.ts',
  'tests/system/owns-bus-processes.test.ts',
  'tests/system/realtime.test.ts',
  'tests/system/series.test.ts',
  'tests/system/transports.test.ts',
]

/**
 * Four processes at the pace of real time on the one slow processor of another kernel: if this machine leaves that kernel alone for half a
 * second, arms fall silent, and the verdict says that the bench was at fault. So it is run by hand: npm run test:can-drivers.
 */
export const CAN_DRIVERS = ['tests/system/own-driver-can.test.ts']
