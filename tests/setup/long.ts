/**
 * Tests that play many whole runs in virtual time, or study a whole rig. Together they take longer than anybody waits for between two
 * changes, so they have a command of their own: npm run test:long. `.ci/run` runs it too.
 */
export const LONG = [
  'tests/system/afloat.test.ts',
  'tests/system/broken.test.ts',
  'tests/system/frame-map.test.ts',
  'tests/system/judge-log.test.ts',
  'tests/system/mount.test.ts',
  'tests/system/package.test.ts',
  'tests/system/repeat.test.ts',
  'tests/system/rigs.test.ts',
  'tests/system/stop-scenarios.test.ts',
  'tests/system/stopping-command.test.ts',
  'tests/unit/driver/cruise.test.ts',
  'tests/unit/driver/envelope-afloat.test.ts',
  'tests/unit/driver/envelope.test.ts',
  'tests/unit/preflight/preflight.test.ts',
]
