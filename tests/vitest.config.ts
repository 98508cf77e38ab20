import { defineConfig } from 'vitest/config'

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    include: ['tests/**/*.test.ts'],
    globalSetup: ['tests/setup/packages.ts'],
    reporters: ['default', './tests/setup/closing-line.ts'],
    testTimeout: 60_000,
    hookTimeout: 60_000,
  },
})
