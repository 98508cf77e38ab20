/**
 * A rig or scenario file with every default of its schema written out: what a recording keeps, so that judging it later
 * does not depend on what the defaults are then. The text is again a file of the same kind, with the same meaning.
 */
import { parse, stringify } from 'yaml'
import type { z } from 'zod'
import type { WatchSchemas } from './load.js'
import { rigForm } from './rig-schema.js'
import { scenarioForm } from './scenario-schema.js'
import { unwrap } from './schema-walk.js'
import { namesUrdf, wholeRig } from './urdf/arms.js'

/** The rig that was written out last: a series plays one rig again and again, and reading it takes a tenth of a run. */
let last: { readonly text: string; readonly watchSchemas: WatchSchemas; readonly resolved: string } | null =
  null

/** @param text of a rig file that has been loaded without a complaint, with no URDF file in it: see {@link wholeRigText} */
export function resolvedRigText(text: string, watchSchemas: WatchSchemas): string {
  if (last?.text === text && last.watchSchemas === watchSchemas) return last.resolved
  const resolved = written(withDefaults(rigForm(watchSchemas), parse(text)))
  last = { text, watchSchemas, resolved }
  return resolved
}

/**
 * A rig file that needs no other: arms of URDF files are written out.
 * @param text of a rig file that has been loaded without a complaint
 * @returns the very same text where there is no such arm, and what people should know of what was not read
 */
export function wholeRigText(
  text: string,
  file: string,
): { readonly text: string; readonly notes: readonly string[] } {
  const given = parse(text)
  if (!namesUrdf(given)) return { text, notes: [] }
  const { raw, notes } = wholeRig(given, file)
  return { text: `# The arms are written out from their URDF files.\n${yamlOf(raw)}`, notes }
}

/** @param text of a scenario file that has been loaded without a complaint */
export function resolvedScenarioText(text: string): string {
  return written(withDefaults(scenarioForm, parse(text)))
}

function written(value: unknown): string {
  return `# As played: every default is written out.\n${yamlOf(value)}`
}

function yamlOf(value: unknown): string {
  return stringify(value, { lineWidth: 110 })
}

/** A value of a file with every default of its schema filled in, still as a file says it. */
export function withDefaults(schema: z.core.$ZodType, given: unknown): unknown {
  const value = given === undefined ? defaultOf(schema) : given
  if (typeof value !== 'object' || value === null) return value
  const def = unwrap(schema, value)
  switch (def.type) {
    case 'object': {
      const section = value as Record<string, unknown>
      const filled = Object.entries(def.shape).map(([key, child]) => [key, withDefaults(child, section[key])])
      return Object.fromEntries(filled.filter(([, v]) => v !== undefined))
    }
    case 'record':
      return Object.fromEntries(
        Object.entries(value).map(([key, v]) => [key, withDefaults(def.valueType, v)]),
      )
    case 'array':
      return (value as unknown[]).map((v) => withDefaults(def.element, v))
    default:
      return value
  }
}

/** The default as a file would say it, or undefined. */
function defaultOf(schema: z.core.$ZodType): unknown {
  const def = (schema as z.core.$ZodTypes)._zod.def
  if (def.type === 'prefault' || def.type === 'default') return def.defaultValue
  if (def.type === 'optional') return defaultOf(def.innerType)
  if (def.type === 'pipe') return defaultOf(def.in)
  return undefined
}
