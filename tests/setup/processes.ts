/**
 * Tests of real processes in real time, on TCP, pseudo-terminals and user-mode Linux. A machine that is busy otherwise can
 * make them fail, so they have a command of their own: npm run test:processes, on a machine that does nothing else.
 */
export const PROCESSES = [
  'tests/system/bench-killed.test.ts',
  'tests/system/guardian.test.ts',
  'tests/system/jog.test.ts',
  'tests/system/realtime.test.ts',
  'tests/system/series.test.ts',
  'tests/system/transports.test.ts',
  'tests/system/uml.test.ts',
]
