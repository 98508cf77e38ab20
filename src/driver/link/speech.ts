/**
 * What is said to a driver under test, and how its answers are read: protocol 1 of our own, or the rig's own templates where a
 * WebSocket carries them.
 *
 * Protocol 1, one JSON object a message:
 *
 *     to the driver   {"hello":1,"rig":...,"joints":[names],"period":s,"every":s,"owns-bus":false,"park":[rad],"units":{...}}
 *     from it         {"ready":1}, or with the pose in which it stands itself: {"ready":1,"park":[rad]}
 *     to the driver   {"begin":true}                        the arms stand at the park pose: at the start, and after each stop
 *     to the driver   {"n":1,"t":s,"surge":m/s,"yaw":rad/s} each period; without surge and yaw: no command came
 *     from it         {"n":1,"setpoints":[rad]}             joints in order
 *     to one that owns the buses, each period:
 *                     {"n":1,"t":s,"do":"follow","surge":m/s,"yaw":rad/s}   also "enable", "disable" and "stop", at rest
 *     to the driver   {"bye":true}                          it ends
 */
import type { DriverLinkSettings, Template, WebSocketDriverSettings } from '../../files/driver.js'
import type { Command } from '../../files/scenario.js'
import { pointed } from './pointer.js'

const PROTOCOL = 1

/** What the driver is told of the rig. */
export interface Introduction {
  readonly rig: string
  readonly joints: readonly string[]
  /** s */
  readonly period: number
  /** rad, joints in order */
  readonly park: readonly number[]
}

/** What a message of the driver says. */
export type Said =
  | { readonly kind: 'ready'; readonly park: readonly number[] | null }
  /** `count` of the command that is answered, null: not said. Setpoints in rad, null: it owns the bus and has heard the command. */
  | { readonly kind: 'answer'; readonly count: number | null; readonly setpoints: readonly number[] | null }
  /** Nothing that concerns us. */
  | { readonly kind: 'other' }
  /** `place`: name of the joint that it is about, or empty. */
  | { readonly kind: 'rubbish'; readonly says: string; readonly place: string }

export interface Speech {
  /** Messages to begin with. */
  readonly hello: readonly string[]
  /** `hello` is said again until it is answered: messages may be lost. */
  readonly repeats: boolean
  /** A message says when it is ready; false: it is once it is connected. */
  readonly waits: boolean
  /** At the park pose, for the first time or anew. */
  readonly begin: readonly string[]
  /** Answers carry the count of the command. */
  readonly counts: boolean
  readonly bye: readonly string[]
  /** @param command null: none came; @returns null: then nothing is said */
  command(count: number, time: number, command: Command | null, order?: string): string | null
  /** What it is to do reaches a driver that owns the buses. */
  readonly orders: boolean
  read(text: string): Said
}

export function speechOf(link: DriverLinkSettings, about: Introduction): Speech {
  return link.kind === 'websocket' ? new OwnSpeech(link, about) : new PlainSpeech(link, about)
}

const rubbish = (says: string, place = ''): Said => ({ kind: 'rubbish', says, place })

function parsed(text: string): { readonly value: unknown } | null {
  try {
    return { value: JSON.parse(text) }
  } catch {
    return null
  }
}

const shown = (text: string): string => JSON.stringify(text.length > 60 ? `${text.slice(0, 60)}...` : text)

/** @returns the numbers, or what is wrong with them */
function setpointsIn(value: unknown, joints: readonly string[], what = 'setpoints'): number[] | Said {
  const given = Array.isArray(value) ? value : byName(value, joints)
  if (given === null)
    return rubbish(`${what} must be a list of ${joints.length} numbers in rad, in the order of the joints`)
  if (given.length !== joints.length)
    return rubbish(`${what} must be ${joints.length} numbers, one for each joint; ${given.length} came`)
  for (const [i, q] of given.entries()) {
    if (typeof q === 'number' && Number.isFinite(q)) continue
    // What becomes of NaN in JSON that JavaScript writes.
    const hint = q === null ? ' (NaN and infinity become null in JSON)' : ''
    const found = q === undefined ? 'missing' : JSON.stringify(q)
    return rubbish(`${what} of ${joints[i]} must be a finite number in rad; it is ${found}${hint}`, joints[i])
  }
  return given as number[]
}

function byName(value: unknown, joints: readonly string[]): unknown[] | null {
  if (typeof value !== 'object' || value === null) return null
  return joints.map((name) =>
    Object.hasOwn(value, name) ? (value as Record<string, unknown>)[name] : undefined,
  )
}

const isCount = (n: unknown): n is number => typeof n === 'number' && Number.isSafeInteger(n) && n >= 0

class PlainSpeech implements Speech {
  readonly orders = true
  readonly hello: readonly string[]
  readonly repeats: boolean
  readonly waits = true
  readonly begin = [JSON.stringify({ begin: true })]
  readonly counts: boolean
  readonly bye = [JSON.stringify({ bye: true })]
  readonly #joints: readonly string[]
  readonly #ownsBus: boolean

  constructor({ kind, ownsBus, every }: DriverLinkSettings, about: Introduction) {
    this.#joints = about.joints
    this.#ownsBus = ownsBus
    this.repeats = kind === 'udp' || kind === 'serial'
    this.counts = !ownsBus
    const units = { t: 's', surge: 'm/s', yaw: 'rad/s', setpoints: 'rad', park: 'rad' }
    const { rig, joints, period, park } = about
    this.hello = [
      JSON.stringify({
        hello: PROTOCOL,
        ...{ rig, joints, period, every: every ?? period, 'owns-bus': ownsBus, park, units },
      }),
    ]
  }

  command(count: number, time: number, command: Command | null, order?: string): string | null {
    if (order !== undefined) {
      const { surge, yaw } = command ?? {}
      return JSON.stringify({ n: count, t: time, do: order, surge, yaw })
    }
    if (command) return `{"n":${count},"t":${time},"surge":${command.surge},"yaw":${command.yaw}}`
    // Who answers is led by our time, also where no command is; who owns the bus has a time of its own.
    return this.#ownsBus ? null : `{"n":${count},"t":${time}}`
  }

  read(text: string): Said {
    const json = parsed(text)
    if (!json) {
      const hint = /\b-?(?:NaN|Infinity)\b/.test(text)
        ? 'NaN and Infinity are no JSON'
        : 'words for people belong on standard error'
      return rubbish(`${shown(text)} is no JSON object on one line; ${hint}`)
    }
    const { value } = json
    if (typeof value !== 'object' || value === null || Array.isArray(value))
      return rubbish(`${shown(text)} is no JSON object`)
    const { ready, n, setpoints, park } = value as Record<string, unknown>
    if (ready !== undefined) {
      if (ready !== PROTOCOL)
        return rubbish(`it speaks protocol ${JSON.stringify(ready)}; this is protocol ${PROTOCOL}`)
      if (park === undefined) return { kind: 'ready', park: null }
      const pose = setpointsIn(park, this.#joints, 'park')
      return Array.isArray(pose) ? { kind: 'ready', park: pose } : pose
    }
    if (!isCount(n)) return rubbish(`${shown(text)} has no count n of the command that it answers`)
    if (this.#ownsBus) return { kind: 'answer', count: n, setpoints: null }
    const found = setpointsIn(setpoints, this.#joints)
    return Array.isArray(found) ? { kind: 'answer', count: n, setpoints: found } : found
  }
}

/** By the rig's templates and pointers. */
class OwnSpeech implements Speech {
  readonly orders: boolean
  readonly hello: readonly string[]
  readonly repeats = false
  readonly waits: boolean
  readonly begin: readonly string[]
  readonly counts: boolean
  readonly bye: readonly string[]
  readonly #link: WebSocketDriverSettings
  readonly #joints: readonly string[]
  readonly #words: Readonly<Record<string, unknown>>

  constructor(link: WebSocketDriverSettings, { rig, joints, period, park }: Introduction) {
    this.#link = link
    this.#joints = joints
    this.#words = { rig, joints, period, park }
    const said = (template: Template): string => JSON.stringify(filled(template, this.#words))
    this.hello = link.afterConnecting.map(said)
    this.begin = link.beforeStarting.map(said)
    this.bye = link.beforeClosing.map(said)
    this.waits = link.ready !== null
    this.orders = JSON.stringify(link.command).includes('"$order"')
    this.counts = link.counter !== null
  }

  command(count: number, time: number, command: Command | null, order?: string): string | null {
    if (!command) return null
    return JSON.stringify(filled(this.#link.command, { ...this.#words, ...command, time, count, order }))
  }

  read(text: string): Said {
    const { ready, setpoints, counter } = this.#link
    const json = parsed(text)
    if (!json) return rubbish(`${shown(text)} is no JSON`)
    const { value } = json
    if (ready && pointed(value, ready.at) === ready.is) {
      if (ready.park === null) return { kind: 'ready', park: null }
      const pose = setpointsIn(pointed(value, ready.park), this.#joints, `park (at ${ready.park})`)
      return Array.isArray(pose) ? { kind: 'ready', park: pose } : pose
    }
    const count = counter === null ? undefined : pointed(value, counter)
    if (setpoints === null)
      return isCount(count) ? { kind: 'answer', count, setpoints: null } : { kind: 'other' }
    const given = pointed(value, setpoints)
    // It may speak of other things as well.
    if (given === undefined) return { kind: 'other' }
    if (counter !== null && !isCount(count))
      return rubbish(`a message with setpoints has no count at ${counter}: ${shown(text)}`)
    const found = setpointsIn(given, this.#joints)
    return Array.isArray(found)
      ? { kind: 'answer', count: isCount(count) ? count : null, setpoints: found }
      : found
  }
}

/** A message: the template with its words replaced by what they stand for. */
function filled(template: Template, words: Readonly<Record<string, unknown>>): unknown {
  if (typeof template === 'string') {
    if (template.startsWith('$$')) return template.slice(1)
    return template.startsWith('$') ? words[template.slice(1)] : template
  }
  if (typeof template !== 'object' || template === null) return template
  if (Array.isArray(template)) return template.map((inner: Template) => filled(inner, words))
  return Object.fromEntries(
    Object.entries(template as Readonly<Record<string, Template>>).map(([key, inner]) => [
      key,
      filled(inner, words),
    ]),
  )
}
