/** The settings of a rig's watches as its file states them, each with what it is and what it would be if nobody had stated it. */
import { parse } from 'yaml'
import type { z } from 'zod'
import type { WatchSchemas } from './load.js'
import { abouts } from './quantity.js'
import { withDefaults } from './resolved-text.js'
import { unwrap } from './schema-walk.js'

export interface StatedSetting {
  /** As the rig's section `watch` has it: `limits.speed.window`. */
  readonly name: string
  /** As in a file, with its unit; null: left out, and what is in its place is said by `about`. */
  readonly value: string | null
  readonly usual: string | null
  /** One line. */
  readonly about: string
}

/** @param text of a rig file that has been loaded without a complaint */
export function statedSettings(text: string, watchSchemas: WatchSchemas): StatedSetting[] {
  const given = (parse(text) as { watch?: Record<string, unknown> }).watch ?? {}
  return Object.entries(watchSchemas).flatMap(([watch, schema]) =>
    settingsIn(schema, withDefaults(schema, given[watch]), withDefaults(schema, undefined), watch),
  )
}

function settingsIn(schema: z.core.$ZodType, value: unknown, usual: unknown, name: string): StatedSetting[] {
  const def = unwrap(schema, value)
  if (def.type !== 'object')
    return [{ name, value: shown(value), usual: shown(usual), about: aboutOf(schema) }]
  const of = (section: unknown, key: string) => (section as Record<string, unknown>)[key]
  return Object.entries(def.shape).flatMap(([key, child]) =>
    settingsIn(child, of(value, key), of(usual, key), `${name}.${key}`),
  )
}

/** Lags by joint are a section of their own; an empty one is none. */
function shown(value: unknown): string | null {
  if (value === undefined) return null
  if (typeof value !== 'object' || value === null) return String(value)
  const entries = Object.entries(value)
  return entries.length === 0 ? null : entries.map(([key, v]) => `${key}: ${v}`).join(', ')
}

/** Defaults and transformations stand around what was described. */
function aboutOf(schema: z.core.$ZodType): string {
  const about = abouts.get(schema)?.about ?? (schema as z.ZodType).meta?.()?.description
  if (about !== undefined) return about
  const def = (schema as z.core.$ZodTypes)._zod.def
  if (def.type === 'prefault' || def.type === 'default' || def.type === 'optional')
    return aboutOf(def.innerType)
  if (def.type === 'pipe') return aboutOf(def.in)
  throw new Error('a setting without a description')
}
