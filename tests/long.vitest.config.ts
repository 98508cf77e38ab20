import { defineConfig } from 'vitest/config'
import { LONG } from './setup/long.js'

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    globalSetup: ['tests/setup/packages.ts', 'tests/setup/shared-runs.ts'],
    maxWorkers: '100%',
    reporters: ['default', './tests/setup/closing-line.ts'],
    testTimeout: 60_000,
    hookTimeout: 60_000,
    isolate: false,
    include: LONG,
  },
})
