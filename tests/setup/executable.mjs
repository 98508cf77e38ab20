// The compiler writes plain files; the command must be one that a shell may run, also where npm linked to it before.
import { chmodSync } from 'node:fs'

chmodSync(new URL('../../dist/cli/main.js', import.meta.url), 0o755)
