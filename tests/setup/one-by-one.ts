import { defineConfig } from 'vitest/config'

/** One file after the other: some take a real-time priority. @param include paths from the project's root */
export function oneByOne(include: readonly string[]) {
  return defineConfig({
    root: new URL('../..', import.meta.url).pathname,
    test: {
      globalSetup: ['tests/setup/packages.ts'],
      reporters: ['default', './tests/setup/closing-line.ts'],
      testTimeout: 60_000,
      hookTimeout: 60_000,
      include: [...include],
      fileParallelism: false,
    },
  })
}
