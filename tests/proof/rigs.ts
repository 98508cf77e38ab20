/**
 * The rigs of the proof: those of the demo, whose drives report heat and supply besides, and the demo skiff with its sides coupled;
 * for single entries the demo skiff whose stop is proven before the first motion, and one whose buses are owned by the driver.
 */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { loadRig } from '../../src/files/load.js'
import type { Rig } from '../../src/files/rig.js'
import { type WatchSettings, watchSchemas } from '../../src/watch/settings.js'
import { change } from '../setup/change.js'
import { driverOwned } from '../setup/driver-beside.js'

export type ProofRig = Rig<WatchSettings>

/** Those of clean runs. */
export const RIGS = ['skiff', 'together', 'alternating', 'frames', 'urdf'] as const
export type RigName = (typeof RIGS)[number] | 'proving' | 'owned'

const FILE: Readonly<Record<RigName, string>> = {
  skiff: 'reservoir-skiff.yaml',
  together: 'reservoir-skiff.yaml',
  alternating: 'reservoir-skiff.yaml',
  frames: 'bottle-skiff-frames.yaml',
  urdf: 'reservoir-skiff-urdf.yaml',
  proving: 'reservoir-skiff.yaml',
  owned: 'reservoir-skiff.yaml',
}

const loaded = new Map<RigName, ProofRig>()

/** @param root folder of the checkout */
export function proofRig(root: string, name: RigName): ProofRig {
  const known = loaded.get(name)
  if (known) return known
  const file = join(root, 'rigs', FILE[name])
  const rig = loadRig(textOf(name, readFileSync(file, 'utf8')), file, watchSchemas)
  const coupled = name === 'together' || name === 'alternating'
  const made = coupled ? { ...rig, stroke: { ...rig.stroke, sides: name } } : rig
  loaded.set(name, made)
  return made
}

function textOf(name: RigName, text: string): string {
  // The driver does not set its drives up to report; and they do not stop by themselves when it is lost: all hangs on the harness.
  if (name === 'owned') return driverOwned(change(text, 'watchdog: true', 'watchdog: false'))
  const told = reporting(text)
  return name === 'proving' ? change(told, 'stop:\n', 'stop:\n  prove: always\n') : told
}

/** The two buses of CiA 402 drives; drives with a frame map report what their map has. */
function reporting(text: string): string {
  const reports = 'reports: { every: 20, temperature: { object: "0x2030", scale: "0.1 degC" }, voltage: {} }'
  return text.replaceAll(/^( +)controlword: .*$/gm, (line, indent) => `${line}\n${indent}${reports}`)
}
