/** One node's SDO channel, as a transcript. Wire format: CiA 301, 7.2.4.3 (expedited transfers). */
import { describe, expect, it } from 'vitest'
import { SdoClient, type SdoScript } from '../../../src/link/sdo-client.js'
import { OBJECT } from '../../../src/wire/cia402/objects.js'
import type { Frame } from '../../../src/wire/frame.js'

const bytes = (text: string): Uint8Array => Uint8Array.from(text.split(' '), (b) => Number.parseInt(b, 16))
const text = (f: Frame): string =>
  `${f.id.toString(16)}: ${[...f.data].map((b) => b.toString(16).padStart(2, '0')).join(' ')}`

function client(script: SdoScript): { sdo: SdoClient; out: string[] } {
  const out: string[] = []
  const sdo = new SdoClient(5, (f) => out.push(text(f)) > 0, 0.05)
  sdo.run(script, 0)
  return { sdo, out }
}

function* modeThenPosition(seen: number[]): SdoScript {
  yield { write: OBJECT.mode, value: 8 }
  seen.push(yield { read: OBJECT.actualPosition })
  return undefined
}

describe('SDO client', () => {
  it('writes, waits for the reply, reads, gives the signed value', () => {
    const seen: number[] = []
    const { sdo, out } = client(modeThenPosition(seen))
    expect(out).toEqual(['605: 2f 60 60 00 08 00 00 00'])
    sdo.onReply(bytes('60 60 60 00 00 00 00 00'), 1e6)
    expect(out[1]).toBe('605: 40 64 60 00 00 00 00 00')
    sdo.onReply(bytes('43 64 60 00 fe ff ff ff'), 2e6)
    expect({ seen, busy: sdo.busy, refusal: sdo.refusal }).toEqual({
      seen: [-2],
      busy: false,
      refusal: undefined,
    })
  })

  it('passes over replies to other objects', () => {
    const { sdo, out } = client(modeThenPosition([]))
    sdo.onReply(bytes('60 61 60 00 00 00 00 00'), 1e6)
    sdo.onReply(bytes('60 60 60'), 1e6)
    expect(out).toHaveLength(1)
    expect(sdo.busy).toBe(true)
  })

  it('says which object was refused, with the abort code', () => {
    const { sdo } = client(modeThenPosition([]))
    sdo.onReply(bytes('80 60 60 00 30 00 09 06'), 1e6)
    expect(sdo.busy).toBe(false)
    expect(sdo.refusal).toEqual({
      says: 'refused to take object 6060h:0',
      expected: '8 taken',
      found: 'SDO abort 06090030h',
    })
  })

  it('with no room on the bus it asks at the next tick that has some, and that counts as no try', () => {
    const out: string[] = []
    let room = false
    const sdo = new SdoClient(5, (f) => room && out.push(text(f)) > 0, 0.05)
    sdo.run(modeThenPosition([]), 0)
    for (const t of [5e6, 60e6, 120e6]) sdo.tick(t)
    expect(out).toEqual([])
    // An answer to nothing that was asked.
    sdo.onReply(bytes('60 60 60 00 00 00 00 00'), 121e6)
    room = true
    sdo.tick(125e6)
    sdo.tick(130e6)
    expect(out).toEqual(['605: 2f 60 60 00 08 00 00 00'])
    sdo.tick(175e6)
    expect(out).toHaveLength(2)
    expect(sdo.refusal).toBeUndefined()
    sdo.tick(225e6)
    expect(sdo.refusal).toMatchObject({ found: 'none after 2 requests' })
  })

  it('asks twice, then says that nothing answers', () => {
    const { sdo, out } = client(modeThenPosition([]))
    sdo.tick(49e6)
    expect(out).toHaveLength(1)
    sdo.tick(50e6)
    expect(out).toHaveLength(2)
    sdo.tick(99e6)
    expect(sdo.refusal).toBeUndefined()
    sdo.tick(100e6)
    expect(sdo.refusal).toMatchObject({
      says: 'does not answer for object 6060h:0',
      found: 'none after 2 requests',
    })
  })

  it('cancelled by a stop, it sends nothing more, whatever reply still comes', () => {
    const { sdo, out } = client(modeThenPosition([]))
    sdo.cancel()
    sdo.onReply(bytes('60 60 60 00 00 00 00 00'), 1e6)
    sdo.tick(100e6)
    expect({ sent: out.length, busy: sdo.busy, refusal: sdo.refusal }).toEqual({
      sent: 1,
      busy: false,
      refusal: undefined,
    })
  })

  it('pauses to the next tick when the script says so', () => {
    function* twice(): SdoScript {
      yield { read: OBJECT.statusword }
      yield { pause: true }
      yield { read: OBJECT.statusword }
      return undefined
    }
    const { sdo, out } = client(twice())
    sdo.onReply(bytes('4b 41 60 00 27 00 00 00'), 1e6)
    expect(out).toHaveLength(1)
    sdo.tick(5e6)
    expect(out).toHaveLength(2)
  })
})
