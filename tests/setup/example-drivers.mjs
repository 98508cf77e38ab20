/** The two drivers to copy, and a rig that one of them leads. */
import { fileURLToPath } from 'node:url'

/** @param {string} name */
const path = (name) => fileURLToPath(new URL(`../../scenarios/drivers/${name}`, import.meta.url))

export const JAVASCRIPT = ['node', path('strokes.mjs')]
export const PYTHON = ['python3', path('strokes.py')]

/** Of a rig's section `watch`: the examples' stroke is an oval, without feathering, as far off the rig's as this. */
export const OVAL =
  'stroke: { length: "10 %", cadence: "100 %", ratio: "100 %", depth: "40 %", clearance: "30 %", angle: "60 deg" }'
