import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { defineConfig } from 'vitest/config'

/** For the tests inside user-mode Linux: one slow processor, so everything in one process, one after the other. */
export default defineConfig({
  root: new URL('../../..', import.meta.url).pathname,
  // Another vitest may be at work outside, on the same files.
  cacheDir: join(tmpdir(), 'vite'),
  test: {
    include: ['tests/system/uml/*.inside.ts'],
    // Not threads: the npm package for SocketCAN ends the process when a worker thread loads it.
    pool: 'forks',
    maxWorkers: 1,
    isolate: false,
    testTimeout: 60_000,
    hookTimeout: 60_000,
    reporters: ['default', './tests/setup/closing-line.ts'],
  },
})
