/** One mistake in a file, before it has a line and a column. */

/** Keys and list places from the top of the file. */
export type Path = readonly (string | number)[]

export interface Complaint {
  readonly path: Path
  /** Point at the key, at the value, or, when the key is missing, at the section that lacks it. */
  readonly at: 'key' | 'value' | 'section'
  /** Goes on after "found". */
  readonly found: string
  /** Goes on after "expected". */
  readonly expected: string
  /** What to do, when the rest does not say it. */
  readonly advice?: string
}

/** What stands in a file, in a few words. */
export function show(value: unknown): string {
  if (value === undefined || value === null) return 'nothing'
  if (Array.isArray(value)) return showList(value)
  if (typeof value === 'object') return 'a section'
  if (typeof value !== 'string') return `the ${typeof value === 'boolean' ? 'word' : 'number'} ${value}`
  return JSON.stringify(value.length > 60 ? `${value.slice(0, 57)}...` : value)
}

function showList(list: readonly unknown[]): string {
  if (list.length === 0) return 'an empty list'
  const simple = list.length <= 6 && list.every((item) => typeof item !== 'object')
  const shown = simple ? `[${list.map((item) => JSON.stringify(item)).join(', ')}]` : ''
  return simple && shown.length <= 80 ? shown : `a list of ${list.length}`
}

/** The value at a path of what was read, or undefined. */
export function valueAt(raw: unknown, path: Path): unknown {
  let value = raw
  for (const key of path) {
    if (typeof value !== 'object' || value === null || !Object.hasOwn(value, key)) return undefined
    value = (value as Record<string | number, unknown>)[key]
  }
  return value
}

/** `arms.port.joints.elbow.wire`: list places are shown by the name of what stands there, if it has one. */
function showPath(raw: unknown, path: Path): string {
  let shown = ''
  path.forEach((key, i) => {
    const name = typeof key === 'number' ? valueAt(raw, [...path.slice(0, i + 1), 'name']) : key
    if (typeof name === 'string') shown += shown === '' ? name : `.${name}`
    else shown += `[${key}]`
  })
  return shown
}

/** All of a complaint but its line and column. @param raw what it is about */
export function sentenceOf(raw: unknown, { path, at, found, expected, advice }: Complaint): string {
  const shown = showPath(raw, at === 'value' ? path : path.slice(0, -1))
  return `${shown === '' ? '' : `${shown}: `}found ${found}; expected ${expected}${advice ? `; ${advice}` : ''}`
}
