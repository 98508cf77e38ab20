import { defineConfig } from 'vitest/config'
import { LONG } from './setup/long.js'
import { CAN_DRIVERS, PROCESSES } from './setup/processes.js'

const shared = { testTimeout: 60_000, hookTimeout: 60_000 }

/** These measure time, or need a processor for themselves: nothing else may run beside them. */
const ALONE = ['tests/system/signal.test.ts', 'tests/system/uml.test.ts']

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    globalSetup: ['tests/setup/packages.ts', 'tests/setup/shared-runs.ts'],
    // Left to itself vitest keeps one processor free.
    maxWorkers: '100%',
    reporters: ['default', './tests/setup/closing-line.ts'],
    projects: [
      {
        test: {
          ...shared,
          name: 'side by side',
          isolate: false,
          include: ['tests/**/*.test.ts'],
          exclude: [...ALONE, ...LONG, ...PROCESSES, ...CAN_DRIVERS],
          sequence: { groupOrder: 0 },
        },
      },
      {
        test: {
          ...shared,
          name: 'alone',
          include: ALONE,
          fileParallelism: false,
          sequence: { groupOrder: 1 },
        },
      },
    ],
  },
})
