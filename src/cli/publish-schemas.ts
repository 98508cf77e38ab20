/**
 * Publishes the JSON Schemas (draft 2020-12) that editors and programs read: of rig files, scenario files and
 * verdict.json. A build step: with `--write` it writes them, without it compares and fails when one is out of date.
 */
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { dirname } from 'node:path'
import { fileURLToPath } from 'node:url'
import { z } from 'zod'
import { writtenRigForm } from '../files/rig-schema.js'
import { scenarioForm } from '../files/scenario-schema.js'
import { verdictSchema } from '../verdict/verdict-schema.js'
import { watchSchemas } from '../watch/settings.js'

const PUBLISHED: readonly { readonly path: string; readonly title: string; readonly schema: z.ZodType }[] = [
  { path: 'rigs/rig.schema.json', title: 'Drystroke rig', schema: writtenRigForm(watchSchemas) },
  { path: 'scenarios/scenario.schema.json', title: 'Drystroke scenario', schema: scenarioForm },
  { path: 'src/verdict/verdict.schema.json', title: 'Drystroke verdict', schema: verdictSchema },
]

/** The schema of what may stand in the file: defaults not yet filled in, quantities still strings. */
function jsonSchemaOf(schema: z.ZodType, title: string): string {
  const { $schema, ...rest } = z.toJSONSchema(schema, {
    target: 'draft-2020-12',
    io: 'input',
    override({ zodSchema, jsonSchema }) {
      const def = (zodSchema as z.core.$ZodTypes)._zod.def
      // Without this a tuple would accept any length.
      if (def.type === 'tuple') Object.assign(jsonSchema, { minItems: def.items.length, items: false })
    },
  })
  return `${JSON.stringify({ $schema, title, ...rest }, null, 2)}\n`
}

function textOf(path: string): string | undefined {
  try {
    return readFileSync(path, 'utf8')
  } catch {
    return undefined
  }
}

function publish(write: boolean): void {
  const root = new URL('../../', import.meta.url)
  for (const { path, title, schema } of PUBLISHED) {
    const wanted = jsonSchemaOf(schema, title)
    const file = fileURLToPath(new URL(path, root))
    // The package has no src: what lies there is published from dist as well.
    const places = path.startsWith('src/')
      ? [fileURLToPath(new URL(path.replace('src/', 'dist/'), root))]
      : []
    if (textOf(file) !== wanted) {
      if (write) places.push(file)
      else {
        console.error(`${path} does not say what the code accepts; write it anew with: npm run schemas`)
        process.exitCode = 1
      }
    }
    for (const place of places) {
      mkdirSync(dirname(place), { recursive: true })
      writeFileSync(place, wanted)
    }
  }
}

publish(process.argv.includes('--write'))
