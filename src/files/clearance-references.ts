/** Checks of a rig's clearance section against its arms. */
import { type Complaint, show, valueAt } from './complaint.js'
import { items, type LooseJoint, textAt, unknownName } from './loose.js'
import { quantityOrUndefined } from './quantity.js'

/** What an arm has besides the links of its joints: their names are not free for joints. */
const PARTS = ['base', 'shaft', 'blade'] as const
const SECTION = 'clearance'

export function clearanceReferences(raw: unknown, joints: readonly LooseJoint[]): Complaint[] {
  if (valueAt(raw, [SECTION]) === undefined) return []
  const arms = items(raw, ['arms']).flatMap((arm) => textAt(arm, ['name']) ?? [])
  const volumes = items(raw, [SECTION, 'keep-out']).flatMap((volume) => textAt(volume, ['name']) ?? [])
  return [
    ...namesOfParts(joints),
    ...namesOfVolumes(raw, arms),
    ...margins(raw),
    ...pairs(raw, arms, joints, volumes),
  ]
}

function namesOfParts(joints: readonly LooseJoint[]): Complaint[] {
  return joints.flatMap((joint): Complaint[] => {
    const name = textAt(joint.raw, ['name'])
    if (!PARTS.some((part) => part === name)) return []
    return [
      {
        path: [...joint.path, 'name'],
        at: 'value',
        found: `"${name}", which clearance calls another part of the arm`,
        expected: `a name other than ${PARTS.join(', ')}`,
        advice: 'rename the joint',
      },
    ]
  })
}

/** Figures name what an arm came near to: another arm, itself, or a volume. */
function namesOfVolumes(raw: unknown, arms: readonly string[]): Complaint[] {
  return items(raw, [SECTION, 'keep-out']).flatMap((volume, i): Complaint[] => {
    const name = textAt(volume, ['name'])
    if (name === undefined || ![...arms, 'itself'].includes(name)) return []
    const path = [SECTION, 'keep-out', i, 'name']
    const expected = 'a name that no arm has, nor "itself", which reports use for an arm'
    return [{ path, at: 'value', found: show(name), expected, advice: 'rename the volume' }]
  })
}

function margins(raw: unknown): Complaint[] {
  const least = quantityOrUndefined(valueAt(raw, [SECTION, 'least']) ?? '50 mm', 'length')
  const warn = quantityOrUndefined(valueAt(raw, [SECTION, 'warn']) ?? '100 mm', 'length')
  if (least === undefined || warn === undefined || warn >= least) return []
  const stated = valueAt(raw, [SECTION, 'warn'])
  const path = [SECTION, stated === undefined ? 'least' : 'warn']
  return [
    {
      path,
      at: 'value',
      found: show(valueAt(raw, path)),
      expected: 'clearance.warn (100 mm where it is left out) to be at least clearance.least',
      advice: 'a warning comes before a failure',
    },
  ]
}

function pairs(
  raw: unknown,
  arms: readonly string[],
  joints: readonly LooseJoint[],
  volumes: readonly string[],
): Complaint[] {
  // When a joint's name is not good, its pieces cannot be told from unknown ones.
  if (joints.some((joint) => joint.name === undefined)) return []
  const pieces = [
    ...joints.map((joint) => joint.name!),
    ...arms.flatMap((arm) => PARTS.map((part) => `${arm}.${part}`)),
  ]
  return items(raw, [SECTION, 'left-out']).flatMap((pair, i): Complaint[] => {
    const path = [SECTION, 'left-out', i]
    const names = items(pair, [])
    if (names.length !== 2 || !names.every((name) => typeof name === 'string')) return []
    const unknown = names.flatMap((name, k) =>
      pieces.includes(name) || volumes.includes(name)
        ? []
        : [
            unknownName([...path, k], name, 'no part of an arm and no volume of this rig', [
              ...pieces,
              ...volumes,
            ]),
          ],
    )
    if (unknown.length > 0) return unknown
    if (names[0] !== names[1] && names.some((name) => pieces.includes(name))) return []
    const expected = 'two parts of arms, or a part of an arm and a volume'
    return [{ path, at: 'value', found: show(pair), expected, advice: 'remove it' }]
  })
}
