/** Finding one's way in a schema, along the path of a value. */
import type { z } from 'zod'
import { type Path, valueAt } from './complaint.js'

type Def = z.core.$ZodTypes['_zod']['def']

/** Paths of all sections in `raw` whose keys are free. */
export function freeSections(schema: z.core.$ZodType, raw: unknown, path: Path = []): Path[] {
  const value = valueAt(raw, path)
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return []
  const def = unwrap(schema, value)
  if (def.type === 'record') return [path]
  if (def.type !== 'object') return []
  return Object.keys(value).flatMap((key) => {
    const child = Object.hasOwn(def.shape, key) ? def.shape[key] : undefined
    return child ? freeSections(child, raw, [...path, key]) : []
  })
}

/** Keys of the section that the schema has at a path. */
export function keysAt(schema: z.ZodType, path: Path, raw: unknown): string[] {
  const found = schemaAt(schema, path, raw)
  const def = found && unwrap(found, valueAt(raw, path))
  return def?.type === 'object' ? Object.keys(def.shape) : []
}

/** The schema of the value at a path, as it stands there: defaults, transformations and alternatives around it. */
export function schemaAt(schema: z.core.$ZodType, path: Path, raw: unknown): z.core.$ZodType | undefined {
  let found: z.core.$ZodType | undefined = schema
  for (const [i, step] of path.entries())
    found = found && childOf(unwrap(found, valueAt(raw, path.slice(0, i))), step)
  return found
}

function childOf(def: Def, step: string | number): z.core.$ZodType | undefined {
  if (def.type === 'object') return def.shape[step]
  if (def.type === 'array') return def.element
  if (def.type === 'record') return def.valueType
  if (def.type === 'tuple') return def.items[Number(step)]
  return undefined
}

/** The schema behind defaults and transformations; of alternatives the one that the value's own word chooses. */
export function unwrap(schema: z.core.$ZodType, value: unknown): Def {
  const def = (schema as z.core.$ZodTypes)._zod.def
  if (def.type === 'prefault' || def.type === 'default' || def.type === 'optional')
    return unwrap(def.innerType, value)
  if (def.type === 'pipe') return unwrap(def.in, value)
  if (def.type === 'union' && !('discriminator' in def)) return unwrap(alternativeOf(def, value), value)
  if (def.type === 'union' && 'discriminator' in def) {
    const word = String(def.discriminator)
    const chosen = def.options.find((option) => {
      const form = unwrap(option, value)
      return form.type === 'object' && form.shape[word]?._zod.values?.has(valueAt(value, [word]) as never)
    })
    if (chosen) return unwrap(chosen, value)
  }
  return def
}

/** Of alternatives that no word tells apart: the first that forbids no key that the value has. */
export function alternativeOf(def: z.core.$ZodUnionDef, value: unknown): z.core.$ZodType {
  const present = typeof value === 'object' && value !== null ? Object.keys(value) : []
  return (
    def.options.find((option) => {
      const form = unwrap(option, value)
      return form.type === 'object' && !present.some((key) => isForbidden(form.shape[key], value))
    }) ?? def.options[0]!
  )
}

function isForbidden(schema: z.core.$ZodType | undefined, value: unknown): boolean {
  return schema !== undefined && unwrap(schema, value).type === 'never'
}
