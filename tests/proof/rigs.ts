/** The rigs of the proof: those of the demo, whose drives report heat and supply besides, and the demo skiff with its sides coupled. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { loadRig } from '../../src/files/load.js'
import type { Rig } from '../../src/files/rig.js'
import { type WatchSettings, watchSchemas } from '../../src/watch/settings.js'

export type ProofRig = Rig<WatchSettings>

export const RIGS = ['skiff', 'together', 'alternating', 'frames', 'urdf'] as const
export type RigName = (typeof RIGS)[number]

const FILE: Readonly<Record<RigName, string>> = {
  skiff: 'reservoir-skiff.yaml',
  together: 'reservoir-skiff.yaml',
  alternating: 'reservoir-skiff.yaml',
  frames: 'bottle-skiff-frames.yaml',
  urdf: 'reservoir-skiff-urdf.yaml',
}

const loaded = new Map<RigName, ProofRig>()

/** @param root folder of the checkout */
export function proofRig(root: string, name: RigName): ProofRig {
  const known = loaded.get(name)
  if (known) return known
  const file = join(root, 'rigs', FILE[name])
  const rig = loadRig(reporting(readFileSync(file, 'utf8')), file, watchSchemas)
  const coupled = name === 'together' || name === 'alternating'
  const made = coupled ? { ...rig, stroke: { ...rig.stroke, sides: name } } : rig
  loaded.set(name, made)
  return made
}

/** The two buses of CiA 402 drives; drives with a frame map report what their map has. */
function reporting(text: string): string {
  const reports = 'reports: { every: 20, temperature: { object: "0x2030", scale: "0.1 degC" }, voltage: {} }'
  return text.replaceAll(/^( +)controlword: .*$/gm, (line, indent) => `${line}\n${indent}${reports}`)
}
