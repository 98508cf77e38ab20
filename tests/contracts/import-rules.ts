/**
 * The rules that src's folders keep: which may import which, no circles, no clocks outside clock.ts, no random numbers but
 * random.ts's, and folds that nothing outside can reach.
 */

export interface Import {
  readonly from: string
  readonly to: string
  readonly typeOnly: boolean
}

/** Paths below src, such as `wire/frame.ts`, and their text. */
export type Sources = ReadonlyMap<string, string>

const LOW = ['files', 'motion', 'wire', 'bus']
const MIDDLE = ['watch', 'stop', 'link', 'plant', 'driver', 'record', 'verdict', 'report']

/** What the files of a folder may import besides their own folder and the ground floor. */
const MAY_IMPORT: Readonly<Record<string, readonly string[]>> = {
  files: [],
  motion: ['files'],
  wire: ['files'],
  bus: ['wire', 'files'],
  watch: LOW,
  link: LOW,
  plant: LOW,
  driver: LOW,
  record: LOW,
  stop: [...LOW, 'link'],
  verdict: [...LOW, 'watch', 'record'],
  report: [...LOW, 'verdict', 'record'],
  bench: [...LOW, ...MIDDLE, 'stand-in'],
  'stand-in': [...LOW, 'plant'],
  survey: [...LOW, 'link', 'watch', 'report'],
  preflight: [...LOW, 'driver', 'watch', 'report', 'bench'],
  ready: [...LOW, ...MIDDLE, 'bench'],
  sweep: [...LOW, ...MIDDLE, 'bench'],
  cli: [...LOW, ...MIDDLE, 'bench', 'ready', 'sweep', 'stand-in', 'survey', 'preflight'],
}

/** Pure mathematics and pure codecs know the rig's shape and no more. */
const ONLY_TYPES_OF_RIG = ['motion', 'wire']
/** They would run in a browser as they are. */
const NO_NODE = ['motion', 'wire']

const CLOCKS = /\bDate\b|\bperformance\b|\bhrtime\b|\bset(?:Timeout|Interval)\b|node:(?:perf_hooks|timers)/
/** The loop of a bench waits by timers; it reads time from its clock all the same. */
const TIMERS = /\bset(?:Timeout|Interval)\b|node:timers/g

/** Watches, state machines and the judge are folds: what they are given is all they know. */
const FOLDS = [
  /^watch\//,
  /^verdict\/(?!judge-recording\.ts$)/,
  /^stop\/latch\.ts$/,
  /^stop\/guardian\/fold\.ts$/,
  /^plant\/drive\.ts$/,
]
/** Ways out of a fold besides imports; clocks are forbidden to all. */
const WAYS_OUT =
  /(?<![.#\w])(?:process|console|globalThis|fetch|require|crypto)\s*[.([]|\bawait\b|\bPromise\b/
const RANDOM =
  /\bMath\s*(?:\.|\?\.|\[\s*['"`])\s*random\b|\{[^}]*\brandom\b[^}]*\}\s*=\s*Math\b|\bgetRandomValues\b|\brandomBytes\b|\brandomUUID\b/

/** Every breach of a rule in a sentence; empty when all is well. */
export function breaches(sources: Sources): string[] {
  const imports = [...sources].flatMap(([from, text]) => importsOf(from, text))
  return [
    ...imports.flatMap(({ to, from }) =>
      isModule(to) || sources.has(to) ? [] : [`${from} imports ${to}, which is not there`],
    ),
    ...imports.flatMap(direction),
    ...circles(sources, imports),
    ...[...sources].flatMap(([path, text]) => clocksIn(path, text)),
    ...[...sources].flatMap(([path, text]) => randomIn(path, text)),
    ...[...sources].flatMap(([path, text]) => waysOut(path, text)),
    ...imports.flatMap(impure),
  ]
}

export function importsOf(from: string, text: string): Import[] {
  const code = withoutComments(text)
  const imports: Import[] = []
  for (const [, word, target] of code.matchAll(
    /^\s*(?:import|export)\s+(type\s)?(?:[^'";]*?\sfrom\s+)?'([^']+)'/gm,
  )) {
    imports.push({ from, to: resolve(from, target!), typeOnly: word !== undefined })
  }
  for (const [, target] of code.matchAll(/\bimport\(\s*['"]([^'"]+)['"]\s*\)/g)) {
    imports.push({ from, to: resolve(from, target!), typeOnly: false })
  }
  return imports
}

function direction({ from, to, typeOnly }: Import): string[] {
  const folder = folderOf(from)
  if (isModule(to)) {
    return to.startsWith('node:') && NO_NODE.includes(folder)
      ? [`${from} imports ${to}: ${folder} is pure`]
      : []
  }
  const target = folderOf(to)
  if (target === folder || target === '') return []
  const allowed = MAY_IMPORT[folder] ?? []
  if (!allowed.includes(target))
    return [`${from} imports ${to}: ${folder || 'the ground floor'} must not import ${target}`]
  if (!ONLY_TYPES_OF_RIG.includes(folder) || (to === 'files/rig.ts' && typeOnly)) return []
  return [`${from} imports ${to}: ${folder} may import types of files/rig.ts only`]
}

function circles(sources: Sources, imports: readonly Import[]): string[] {
  const targets = new Map<string, string[]>([...sources.keys()].map((path) => [path, []]))
  for (const { from, to } of imports) if (sources.has(to)) targets.get(from)!.push(to)
  const found: string[] = []
  const done = new Set<string>()
  const way: string[] = []
  const walk = (path: string) => {
    const seen = way.indexOf(path)
    if (seen >= 0) found.push(`circle: ${[...way.slice(seen), path].join(' -> ')}`)
    if (seen >= 0 || done.has(path)) return
    way.push(path)
    for (const next of targets.get(path)!) walk(next)
    way.pop()
    done.add(path)
  }
  for (const path of sources.keys()) walk(path)
  return found
}

function clocksIn(path: string, text: string): string[] {
  if (path === 'clock.ts') return []
  const code = withoutComments(text)
  const found = CLOCKS.exec(folderOf(path) === 'bench' ? code.replace(TIMERS, '') : code)
  return found ? [`${path} has "${found[0]}": only clock.ts reads a clock, others are handed one`] : []
}

function randomIn(path: string, text: string): string[] {
  const found = RANDOM.exec(withoutComments(text))
  return found ? [`${path} has "${found[0]}": random numbers come from the seeded streams of random.ts`] : []
}

const isFold = (path: string): boolean => FOLDS.some((fold) => fold.test(path))

function waysOut(path: string, text: string): string[] {
  const found = isFold(path) ? WAYS_OUT.exec(withoutComments(text)) : null
  return found ? [`${path} has "${found[0]}": it is a fold`] : []
}

/** A fold reads no file, and imports neither what does nor the random streams. */
function impure({ from, to, typeOnly }: Import): string[] {
  if (!isFold(from) || typeOnly) return []
  const forbidden =
    to.startsWith('node:') || to === 'random.ts' || to === 'files/load.ts' || to.startsWith('record/')
  return forbidden ? [`${from} imports ${to}: it is a fold`] : []
}

function withoutComments(text: string): string {
  return text.replace(/\/\*[\s\S]*?\*\//g, '').replace(/(^|\s)\/\/.*$/gm, '')
}

function isModule(to: string): boolean {
  return to.startsWith('node:') || to.startsWith('npm:')
}

function folderOf(path: string): string {
  return path.includes('/') ? path.slice(0, path.indexOf('/')) : ''
}

/** Relative targets as paths below src (or `../...` outside of it), others as `node:x` and `npm:x`. */
function resolve(from: string, target: string): string {
  if (!target.startsWith('.')) return target.startsWith('node:') ? target : `npm:${target}`
  const path = new URL(target, `file:///src/${from}`).pathname
  return path.startsWith('/src/') ? path.slice('/src/'.length).replace(/\.js$/, '.ts') : `..${path}`
}
