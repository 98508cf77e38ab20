import { defineConfig } from 'vitest/config'
import { PROCESSES } from './setup/processes.js'

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    globalSetup: ['tests/setup/packages.ts'],
    reporters: ['default', './tests/setup/closing-line.ts'],
    testTimeout: 60_000,
    hookTimeout: 60_000,
    include: PROCESSES,
    // One file at a time: some take a real-time priority.
    fileParallelism: false,
  },
})
