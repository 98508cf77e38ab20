/** Every reason for which a rig with a URDF file is refused, each with the place in the file that is at fault. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, test } from 'vitest'
import { DrystrokeError } from '../../../src/errors.js'
import { loadRig } from '../../../src/files/load.js'
import { change } from '../../setup/runs.js'
import { watchSchemas } from './watch-schemas.js'

const read = (name: string) => readFileSync(new URL(name, import.meta.url), 'utf8')
const RIG = read('small-urdf-rig.yaml')
const ARM = read('small-arm.urdf')
const folder = mkdtempSync(join(tmpdir(), 'drystroke-urdf-'))
afterAll(() => rmSync(folder, { recursive: true }))

/** The message, with the folder taken out; fails when nothing is refused. */
function refusalOf(urdf: string | Uint8Array, rig = RIG): string {
  writeFileSync(join(folder, 'small-arm.urdf'), urdf)
  try {
    loadRig(rig, join(folder, 'rig.yaml'), watchSchemas)
  } catch (error) {
    if (!(error instanceof DrystrokeError)) throw error
    expect(error.code).toBe('file-invalid')
    return error.message.replaceAll(`${folder}/`, '')
  }
  throw new Error('nothing was refused')
}

test('nothing is wrong with the file that the cases change', () => {
  expect(() => refusalOf(ARM)).toThrow('nothing was refused')
})

describe('XML', () => {
  test.each([
    ['empty', '', '1:1: found a mistake of form (document must contain a root element); expected XML 1.0'],
    ['no XML', 'name: arm\n', '2:1: found a mistake of form (text data outside of root node)'],
    [
      'not closed',
      ARM.replace('</robot>', ''),
      '55:1: found a mistake of form (unclosed tag: robot); expected XML 1.0; check that',
    ],
    [
      'closed wrongly',
      ARM.replace('</inertial>', '</inertia>'),
      '10:14: found a mistake of form (unexpected close tag)',
    ],
    [
      'an attribute twice',
      ARM.replace('<mass value', '<mass value="1" value'),
      'found a mistake of form (duplicate attribute: value)',
    ],
    [
      'an unknown entity',
      ARM.replace('value="2"', 'value="&two;"'),
      '8:24: found a mistake of form (undefined entity)',
    ],
  ])('%s', (_, urdf, says) => {
    expect(refusalOf(urdf)).toContain(says)
    expect(refusalOf(urdf)).toMatch(/^small-arm\.urdf:\d+:\d+: /)
  })

  const doctypes = [
    '<!DOCTYPE robot [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>',
    '<!DOCTYPE robot SYSTEM "http://example.invalid/robot.dtd">',
    '<!DOCTYPE robot [<!ENTITY x SYSTEM "file:///etc/hostname">]>',
    '<!DOCTYPE robot>',
  ]
  test.each(doctypes)('%s', (doctype) => {
    expect(refusalOf(ARM.replace('<robot', `${doctype}\n<robot`))).toBe(
      'small-arm.urdf:2:1: found a document type declaration; expected none, because entities can fill the memory; remove it',
    )
  })

  test('elements within elements without end', () => {
    const at = (depth: number) => `<robot name="a">${'<a>'.repeat(depth)}${'</a>'.repeat(depth)}</robot>`
    expect(refusalOf(at(32))).toBe(
      'small-arm.urdf:1:110: found elements nested too deeply; expected at most 32 levels; check that this is the file that was meant',
    )
    expect(refusalOf(at(31))).not.toContain('deep')
    expect(refusalOf('<a>'.repeat(300_000))).toContain('nested too deeply')
  })

  test('more than a megabyte', () => {
    expect(refusalOf(ARM.replace('<link', `<!--${' '.repeat(1_000_000)}-->\n<link`))).toMatch(
      /^small-arm\.urdf:1:1: found \d+ bytes; expected at most 1 MB of XML/,
    )
  })

  test('bytes that are no text', () => {
    expect(refusalOf(Uint8Array.of(0x3c, 0xff, 0xfe))).toContain('not UTF-8; expected text in XML')
  })
})

describe('URDF', () => {
  const MACRO = 'expected plain URDF; expand its macros, and name the file that comes out'
  test.each<[string, string | RegExp, string, string]>([
    ['macros', '<link name="plate"/>', '<m:link xmlns:m="x" name="plate"/>', `3:3: found <m:link>; ${MACRO}`],
    ['an expression', 'mass value="2"', `mass value="\${2 * m}"`, `8:13: found value="\${2 * m}"; ${MACRO}`],
    ['a substitution', 'mass value="2"', 'mass value="$(arg m)"', `8:13: found value="$(arg m)"; ${MACRO}`],
    ['another root', /robot/g, 'model', '2:1: found <model>; expected <robot>, the root of a URDF file'],
    [
      'a link without a name',
      '<link name="plate"/>',
      '<link/>',
      '3:3: found <link> without name; expected name="..." with a name',
    ],
    [
      'a joint without a type',
      'name="on_plate" type="fixed"',
      'name="on_plate"',
      '26:3: joint on_plate: found <joint> without type',
    ],
    [
      'two links of one name',
      'link name="post"',
      'link name="plate"',
      '4:9: link plate: found a second link of this name; expected each name once; rename one of them',
    ],
    [
      'two joints of one name',
      'joint name="swing"',
      'joint name="on_plate"',
      '31:10: joint on_plate: found a second joint of this name',
    ],
    [
      'a link that is not there',
      '<child link="upper"/>',
      '<child link="uper"/>',
      '31:3: joint swing: found the link "uper", which the file does not have; expected a link of the file; did you mean "upper"?',
    ],
    [
      'no parent',
      '    <parent link="post"/>\n',
      '',
      '31:3: joint swing: found no <parent>; expected <parent link="..."/>',
    ],
    [
      'a link that hangs on two joints',
      '<child link="motor"/>',
      '<child link="post"/>',
      '39:3: joint motor_on_upper: found the child link "post", which joint on_plate has too; expected a tree',
    ],
    [
      'a sliding joint',
      'name="swing" type="revolute"',
      'name="swing" type="prismatic"',
      '31:23: joint swing: found a joint of type "prismatic"; expected revolute, continuous or fixed',
    ],
    [
      'a floating joint',
      'name="on_plate" type="fixed"',
      'name="on_plate" type="floating"',
      '26:26: joint on_plate: found a joint of type "floating"; expected revolute, continuous or fixed',
    ],
    [
      'a planar joint',
      'name="on_plate" type="fixed"',
      'name="on_plate" type="planar"',
      'found a joint of type "planar"',
    ],
    [
      'an unknown joint',
      'name="swing" type="revolute"',
      'name="swing" type="screw"',
      'found a joint of type "screw"',
    ],
    [
      'a joint that another moves',
      '<limit velocity',
      '<mimic joint="swing"/>\n    <limit velocity',
      '48:5: joint Elbow.1: found <mimic>; expected a joint with a drive of its own',
    ],
    [
      'no axis',
      'axis xyz="0 0 1"',
      'axis xyz="0 0 0"',
      '35:11: joint swing: found an axis of zero length; expected a direction, such as "0 0 1"',
    ],
    [
      'two numbers for three',
      'axis xyz="0 0 1"',
      'axis xyz="0 1"',
      '35:11: joint swing: found xyz="0 1"; expected three numbers, such as "0 0 0.5"',
    ],
    [
      'no number',
      'upper="2.5"',
      'upper="2.5 rad"',
      '36:25: joint swing: found upper="2.5 rad"; expected one number, such as "0.5"',
    ],
    [
      'an endless number',
      'upper="2.5"',
      'upper="1e999"',
      'joint swing: found upper="1e999"; expected one number',
    ],
    [
      'words of other languages',
      'effort="30"',
      'effort="inf"',
      'joint swing: found effort="inf"; expected one number',
    ],
    [
      'an element twice',
      '<axis xyz="0 0 1"/>',
      '<axis xyz="0 0 1"/><axis xyz="0 1 0"/>',
      '35:24: joint swing: found <axis> for the second time; expected it once; remove one',
    ],
    [
      'no mass',
      '      <mass value="2"/>\n      <inertia ixx="0.02"',
      '      <inertia ixx="0.02"',
      '6:5: link upper: found <inertial> without <mass>; expected mass and inertia',
    ],
    [
      'half an inertia',
      'ixx="0.02" ixy="0"',
      'ixx="0.02"',
      '9:7: link upper: found <inertia> without ixy; expected ixy="..." with a number',
    ],
    [
      'a massless body',
      '<mass value="2"/>',
      '<mass value="0"/>',
      "6:5: link upper: found an <inertial> that no body has (its mass is 0 kg; a body's mass is positive); expected that of a body, or none where the link weighs nothing",
    ],
    [
      'a body without inertia',
      'ixx="0.02" ixy="0" ixz="0" iyy="0.02" iyz="0" izz="0.01"',
      'ixx="0" ixy="0" ixz="0" iyy="0" iyz="0" izz="0"',
      '6:5: link upper: found an <inertial> that no body has (its principal moments of inertia are 0, 0, 0 kg m2; all three are positive); expected that of a body, or none where the link weighs nothing',
    ],
    [
      'a body that breaks the triangle inequality',
      'izz="0.01"/>',
      'izz="0.05"/>',
      '6:5: link upper: found an <inertial> that no body has (its principal moments of inertia are 0.02, 0.02, 0.05 kg m2; the largest cannot exceed the sum of the other two); expected that of a body, or none where the link weighs nothing',
    ],
  ])('%s', (_, from, to, says) => {
    expect(refusalOf(change(ARM, from, to))).toContain(says)
  })

  test('what is wrong with links that the arm does not carry is no matter', () => {
    const plate =
      '<link name="plate"><inertial><mass value="0"/><inertia ixx="0" ixy="0" ixz="0" iyy="0" iyz="0" izz="0"/></inertial></link>'
    expect(() => refusalOf(change(ARM, '<link name="plate"/>', plate))).toThrow('nothing was refused')
  })

  test('all mistakes come at once, those of the rig file first', () => {
    const urdf = change(change(ARM, 'effort="30"', 'effort="much"'), 'xyz="0 0 0.3"', 'xyz="0 0"')
    const lines = refusalOf(urdf, change(RIG, '"2 m"', '"2 kg"')).split('\n')
    expect(lines.map((line) => line.slice(0, line.indexOf(' ')))).toEqual([
      'rig.yaml:3:48:',
      'small-arm.urdf:36:50:',
      'small-arm.urdf:42:13:',
    ])
  })

  test('what two arms have of one file is wrong once', () => {
    const arm = RIG.match(/ {2}- name: port\n[\s\S]*?(?=simulation)/)![0]
    const starboard = arm.replace('name: port', 'name: starboard').replaceAll('node: 11', 'node: 12')
    const two = change(
      change(RIG, arm, arm + starboard),
      /\n$/,
      (end) =>
        `${end}    starboard.swing: { counts-per-turn: 131072, sign: 1, zero: "0 counts", start: "5 deg" }
    starboard.elbow: { counts-per-turn: 131072, sign: 1, zero: "0 counts", start: "5 deg" }\n`,
    )
    expect(refusalOf(change(ARM, 'type="revolute"', 'type="screw"'), two).split('\n')).toHaveLength(1)
  })
})

describe('values of the file that a rig does not accept', () => {
  const CORRECT = 'correct it, or state it in the rig file'
  test.each<[string, string, string, string]>([
    [
      'no effort to speak of',
      'effort="20"',
      'effort="0"',
      `small-arm.urdf:48:5: arms.port.joints.elbow.limits.torque: found "0 N m"; expected more than "0 N m"; ${CORRECT}`,
    ],
    [
      'limits that are none',
      'lower="-2.5" upper="2.5" ',
      '',
      `small-arm.urdf:36:5: arms.port.joints.swing.limits.position: found ["0 rad", "0 rad"]; expected the lower limit first and the upper limit above it; ${CORRECT}`,
    ],
    [
      'friction that drives',
      'friction="0.5"',
      'friction="-0.5"',
      'small-arm.urdf:37:5: arms.port.joints.swing.train.coulomb[0]: found "-0.5 N m"; expected at least "0 N m"',
    ],
    [
      'damping that drives',
      'damping="0.25"',
      'damping="-0.25"',
      'small-arm.urdf:37:5: arms.port.joints.swing.train.viscous: found "-0.25 N m s/rad"; expected at least "0 N m s/rad"',
    ],
    [
      'a link as long as a ship',
      'xyz="0 0 0.3"',
      'xyz="0 0 300"',
      'arms.port.joints.elbow.origin.at[2]: found "300.05 m"; expected at most "20 m"',
    ],
  ])('%s', (_, from, to, says) => {
    expect(refusalOf(change(ARM, from, to))).toContain(says)
  })

  test('are no matter where the rig says otherwise', () => {
    expect(() => refusalOf(change(ARM, 'effort="30"', 'effort="0"'))).toThrow('nothing was refused')
  })

  test('counts that no drive can say are a mistake of the rig, whose counts they are', () => {
    const counts = change(
      RIG,
      'counts-per-turn: 131072, sign: 1, zero: "1200 counts", rated',
      'counts-per-turn: 2147483648, sign: 1, zero: "2147483647 counts", rated',
    )
    expect(refusalOf(ARM, counts)).toMatch(
      /^rig\.yaml:17:56: arms\.port\.joints\.swing\.wire\.counts-per-turn: .*32 bits/,
    )
  })
})

describe('the rig', () => {
  const WRONG: [string, string | RegExp, string, string][] = [
    [
      'no such file',
      'file: small-arm.urdf',
      'file: smal-arm.urdf',
      '12:19: arms.port.urdf.file: found "smal-arm.urdf", where nothing can be read; expected the path of a URDF file, from the folder of this file; did you mean "small-arm.urdf"?',
    ],
    [
      'no tip',
      ', tip: tip',
      '',
      '12:5: arms.port.urdf: found no key "tip"; expected the name of a link of the URDF file; add it',
    ],
    [
      'a misspelt key',
      'base-link: plate',
      'base: plate',
      '12:35: arms.port.urdf: found the unknown key "base"; expected one of file, base-link, tip; remove it',
    ],
    [
      'urdf misspelt',
      'urdf: {',
      'udrf: {',
      '12:5: arms.port: found the unknown key "udrf"; expected one of name, side, payload, base, urdf, joints, tool, blade, paddle; did you mean "urdf"?',
    ],
    [
      'a file name alone',
      /urdf: \{.*\}/,
      'urdf: small-arm.urdf',
      '12:11: arms.port.urdf: found "small-arm.urdf"; expected a section with the keys file, base-link, tip',
    ],
    [
      'an unknown tip',
      'tip: tip',
      'tip: tipp',
      '12:58: arms.port.urdf.tip: found "tipp", no link of small-arm.urdf; expected one of plate, post, upper, motor, fore, tip; did you mean "tip"?',
    ],
    [
      'an unknown base',
      'base-link: plate',
      'base-link: plat',
      '12:46: arms.port.urdf.base-link: found "plat", no link of small-arm.urdf; expected one of',
    ],
    [
      'a tip that does not hang on the base',
      'base-link: plate, tip: tip',
      'base-link: fore, tip: upper',
      'arms.port.urdf.tip: found "upper", which does not hang on "fore"; expected the tip of an arm',
    ],
    [
      'a chain that does not move',
      'tip: tip',
      'tip: post',
      'arms.port.urdf.tip: found "post", with no joint that turns between it and "plate"; expected the tip of an arm',
    ],
    [
      'an unknown joint',
      'urdf: Elbow.1',
      'urdf: elbow-1',
      '19:15: arms.port.joints.elbow.urdf: found "elbow-1", no joint of small-arm.urdf that turns between base link and tip; expected one of swing, Elbow.1',
    ],
    [
      'a joint by the name of the rig',
      '        urdf: Elbow.1\n',
      '',
      '18:15: arms.port.joints.elbow.name: found "elbow", no joint of small-arm.urdf',
    ],
    [
      'joints out of order',
      'urdf: Elbow.1',
      'urdf: swing',
      '19:15: arms.port.joints.elbow.urdf: found "swing" in place 2; expected the 2 joints of small-arm.urdf between base link and tip, in their order: swing, Elbow.1',
    ],
    [
      'a joint too few',
      / {6}- name: elbow[\s\S]*?(?= {4}tool)/,
      '',
      '14:7: arms.port.joints: found 1 joints; expected the 2 joints of small-arm.urdf',
    ],
    [
      'a continuous joint without limits',
      'position: ["-20 deg", "150 deg"], ',
      '',
      '20:9: arms.port.joints.elbow.limits: found no key "position", and small-arm.urdf says that the joint is continuous; expected a limit, such as ["-90 deg", "90 deg"]; add it',
    ],
    [
      'what the file alone says',
      '        limits: { acc',
      '        axis: [0, 0, 1]\n        limits: { acc',
      '15:9: arms.port.joints.swing: found the unknown key "axis"; expected one of name, urdf, limits, body, train, rating, wire',
    ],
    [
      'no acceleration',
      'limits: { acceleration: "1500 deg/s2", torque',
      'limits: { torque',
      '15:9: arms.port.joints.swing.limits: found no key "acceleration"; expected an angular acceleration with its unit',
    ],
    [
      'a start outside the limits of the file',
      'start: "5 deg"',
      'start: "150 deg"',
      'simulation.joints.port.swing.start: found "150 deg"; expected a start within the position limits of the joint, "-2.5 rad" to "2.5 rad"',
    ],
    [
      'more freedoms than joints',
      'constrained: [x, y]',
      'constrained: [x, y, z]',
      'arms.port.blade.constrained: found ["x", "y", "z"]; expected at most 2 axes',
    ],
    [
      'a body that cannot be',
      '        train: {',
      '        body: { mass: "1 kg", centre: ["0 m", "0 m", "0 m"], inertia: { xx: "1 kg m2", yy: "1 kg m2", zz: "3 kg m2" } }\n        train: {',
      '16:71: arms.port.joints.swing.body.inertia: found a section; expected moments of inertia that a body can have: its principal moments',
    ],
  ]

  test.each(WRONG)('%s', (_, from, to, says) => {
    const message = refusalOf(ARM, change(RIG, from, to))
    expect(message).toContain(says)
    expect(message).toMatch(/^rig\.yaml:\d+:\d+: /)
  })

  test.each([
    ['velocity="3" ', 'velocity', 'speed'],
    ['effort="20"', 'effort', 'torque'],
  ])('without %s of the file states a limit', (attribute, word, key) => {
    expect(refusalOf(change(ARM, attribute, ''))).toContain(
      `found no key "${key}", and small-arm.urdf states no ${word} of a <limit> for the joint`,
    )
  })

  test('names the base link where the file has two', () => {
    const loose = change(ARM, '<link name="plate"/>', '<link name="plate"/><link name="loose"/>')
    expect(refusalOf(loose, change(RIG, 'base-link: plate, ', ''))).toContain(
      '12:5: arms.port.urdf: found no key "base-link", and 2 links of small-arm.urdf that no joint carries; expected one of plate, loose; add it',
    )
  })

  test('cannot hang on anything where the file goes in a circle', () => {
    const circle = change(
      change(ARM, '<child link="tip"/>', '<child link="plate"/>'),
      '  <link name="tip"/>\n',
      '',
    )
    const rig = change(RIG, 'base-link: plate, tip: tip', 'tip: fore')
    expect(refusalOf(circle, rig)).toContain('and 0 links of small-arm.urdf that no joint carries')
    const named = change(RIG, 'tip: tip', 'tip: fore')
    expect(() => refusalOf(circle, named)).toThrow('nothing was refused')
  })
})
