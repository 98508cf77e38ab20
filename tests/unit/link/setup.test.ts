/**
 * Every entry that one drive of the demo rig is given, worked out by hand.
 *
 * Sources: CiA 301 for 1016h, 1017h, 1029h, communication and mapping records of PDOs (7.5.2), CiA 402 / IEC
 * 61800-7-201 for 6007h, 605Ah, 605Eh, 6060h, 6065h, 6066h, 6072h, 6085h, 60C2h; layouts of 1016h (node in bits 16 to
 * 23, milliseconds below), 605Ah, 6065h (FFFFFFFFh = off), 6066h (ms) as read in open CANopen stacks; 6007h = 3 (quick
 * stop) and 1029h:1 = 0 (pre-operational) from memory.
 */
import { describe, expect, it } from 'vitest'
import { DrystrokeError } from '../../../src/errors.js'
import { loadRig } from '../../../src/files/load.js'
import { isCia402, type Rig } from '../../../src/files/rig.js'
import { nameOf } from '../../../src/link/sdo-client.js'
import { controlwordId, setupEntries } from '../../../src/link/setup.js'
import { watchSchemas } from '../../../src/watch/settings.js'
import { OUR_NODE } from '../../../src/wire/cia402/network.js'
import { change, DEMO_RIG } from '../../setup/runs.js'

const demo = (text = DEMO_RIG): Rig => loadRig(text, 'rig.yaml', watchSchemas)

/** Lines such as `605Ah:0 i16 2`; hexadecimal where bits are packed into the value. */
function entriesOf(rig: Rig, joint: string): string[] {
  return setupEntries(rig, rig.joints.filter(isCia402).find((j) => j.name === joint)!).map(
    ({ object, value, confirmedBy }) => {
      const packed = (object.index < 0x2000 && object.bytes === 4) || value > 0xffffff
      const type = `${object.signed ? 'i' : 'u'}${8 * object.bytes}`
      const shown = packed ? `${value.toString(16).toUpperCase().padStart(8, '0')}h` : value
      return `${nameOf(object)} ${type} ${shown}${confirmedBy ? ` seen in ${nameOf(confirmedBy)}` : ''}`
    },
  )
}

/** The value written to an object of a drive, the last one when there are several. */
const written = (rig: Rig, joint: string, object: string): string =>
  entriesOf(rig, joint)
    .findLast((line) => line.startsWith(`${object} `))!
    .split(' ')[2]!

describe('set-up', () => {
  // Node 13, 131072 counts a turn, 20 N m of 15 N m rated, window 10 deg, quick stop 1500 deg/s2, torque share 60 %, 200 Hz.
  it('of port.elbow, entry by entry', () => {
    expect(entriesOf(demo(), 'port.elbow')).toEqual([
      '1017h:0 u16 50', // ms, its own heartbeat
      '1016h:1 u32 007F0064h', // node 127, 100 ms
      '1029h:1 u8 0', // on loss of communication: pre-operational
      '6007h:0 i16 3', // on loss of communication: quick stop
      '605Ah:0 i16 2', // quick stop ramp, then switch on disabled
      '605Eh:0 i16 2', // a fault: quick stop ramp
      '6085h:0 u32 546133', // 1500 / 360 x 131072 counts/s2
      '6065h:0 u32 3641', // 10 / 360 x 131072 counts
      '6066h:0 u16 100', // ms
      '6072h:0 u16 800', // 1000 x 0.6 x 20 / 15
      '6060h:0 i8 8 seen in 6061h:0', // cyclic synchronous position
      '60C2h:1 u8 5', // 5 x 10^-3 s
      '60C2h:2 i8 -3',
      // RPDO 1 at 200h + node, at every SYNC: 607Ah, 32 bits.
      '1400h:1 u32 8000020Dh', // bit 31: out of service
      '1400h:2 u8 1',
      '1600h:0 u8 0',
      '1600h:1 u32 607A0020h',
      '1600h:0 u8 1',
      '1400h:1 u32 0000020Dh',
      // RPDO 2 at the shared identifier, acts at once: 6040h, 16 bits.
      '1401h:1 u32 80000181h',
      '1401h:2 u8 255',
      '1601h:0 u8 0',
      '1601h:1 u32 60400010h',
      '1601h:0 u8 1',
      '1401h:1 u32 00000181h',
      // TPDO 1 at 180h + node, at every SYNC: 6041h, 6064h, 6077h.
      '1800h:1 u32 8000018Dh',
      '1800h:2 u8 1',
      '1A00h:0 u8 0',
      '1A00h:1 u32 60410010h',
      '1A00h:2 u32 60640020h',
      '1A00h:3 u32 60770010h',
      '1A00h:0 u8 3',
      '1800h:1 u32 0000018Dh',
    ])
  })

  it.each([
    ['6072h:0', 'port.swing', '900'], // 1000 x 0.6 x 30 / 20
    ['6072h:0', 'starboard.feather', '750'], // 1000 x 0.6 x 5 / 4
    ['6065h:0', 'starboard.feather', '1820'], // 10 / 360 x 65536
    ['6085h:0', 'starboard.feather', '273067'], // 1500 / 360 x 65536
    ['1400h:1', 'starboard.feather', '00000210h'], // 200h + 16
    ['1800h:1', 'starboard.feather', '00000190h'], // 180h + 16
  ])('%s of %s is %s', (object, joint, value) => {
    expect(written(demo(), joint, object)).toBe(value)
  })

  it('maps what drives report into TPDO 2, where the bus says that they do', () => {
    const reports = 'reports: { every: 40, temperature: { object: "0x2030", sub: 1 }, voltage: {} }'
    const rig = demo(change(DEMO_RIG, 'queue: 32\n', `queue: 32\n    ${reports}\n`))
    const entries = entriesOf(rig, 'port.elbow')
    expect(entries.slice(entriesOf(demo(), 'port.elbow').length)).toEqual([
      '1801h:1 u32 8000028Dh', // 280h + 13
      '1801h:2 u8 40', // at every 40th SYNC (CiA 301: 1 to 240)
      '1A01h:0 u8 0',
      '1A01h:1 u32 20300110h', // 2030h:1, 16 bits
      '1A01h:2 u32 60790020h', // DC link circuit voltage, 32 bits (CiA 402)
      '1A01h:0 u8 2',
      '1801h:1 u32 0000028Dh',
    ])
    expect(entriesOf(rig, 'starboard.elbow')).toEqual(entriesOf(demo(), 'starboard.elbow'))
  })

  it('gives a drive whose bus shares no controlword identifier its own, 300h + node', () => {
    const rig = demo(change(DEMO_RIG, /controlword: "0x181" # shared.*/, ''))
    expect(written(rig, 'port.elbow', '1401h:1')).toBe('0000030Dh')
    expect(controlwordId(rig, rig.joints.filter(isCia402)[2]!)).toBe(0x30d)
    expect(written(rig, 'starboard.elbow', '1401h:1')).toBe('00000181h')
  })

  it('names itself as node 127, which no drive may have', () => {
    expect(OUR_NODE).toBe(127)
    expect(demo().joints.every((j) => j.wire.node < 127)).toBe(true)
  })
})

// 60C2h: value x 10^exponent s, the value in one byte (CiA 402).
describe('interpolation period', () => {
  it.each([
    ['100 Hz', '10', '-3'],
    ['125 Hz', '8', '-3'],
    ['250 Hz', '4', '-3'],
    ['400 Hz', '25', '-4'],
    ['800 Hz', '125', '-5'],
  ])('of %s is %s x 10^%s s', (rate, value, exponent) => {
    const rig = demo()
    const at = { ...rig, control: { rate: Number.parseFloat(rate), period: 1 / Number.parseFloat(rate) } }
    expect([written(at, 'port.elbow', '60C2h:1'), written(at, 'port.elbow', '60C2h:2')]).toEqual([
      value,
      exponent,
    ])
  })

  it('that does not fit refuses the rig', () => {
    const rig = demo()
    const refused = (): unknown =>
      setupEntries({ ...rig, control: { rate: 300, period: 1 / 300 } }, rig.joints.filter(isCia402)[0]!)
    expect(refused).toThrow(DrystrokeError)
    expect(refused).toThrow(/control\.rate.*60C2h/)
  })
})
