/** Before all tests: a folder for runs that several files look at, each played once (`played` in runs.ts); it goes away after the last. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { TestProject } from 'vitest/node'

declare module 'vitest' {
  export interface ProvidedContext {
    sharedRuns: string
  }
}

export default function setup(project: TestProject): () => void {
  const folder = mkdtempSync(join(tmpdir(), 'drystroke-runs-'))
  project.provide('sharedRuns', folder)
  return () => rmSync(folder, { recursive: true, force: true })
}
