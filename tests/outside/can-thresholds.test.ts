/** Thresholds of error confinement against the Linux kernel's header for CAN error frames. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { BUS_OFF_AT, PASSIVE_AT, WARNING_AT } from '../../src/bus/confinement.js'
import { needs } from '../setup/needs.js'

describe.skipIf(!needs('linux-libc-dev'))('linux/can/error.h', () => {
  it('has our thresholds', () => {
    const header = readFileSync('/usr/include/linux/can/error.h', 'utf8')
    const names = ['ERROR_WARNING', 'ERROR_PASSIVE', 'BUS_OFF']
    const theirs = names.map((name) => Number(new RegExp(`CAN_${name}_THRESHOLD (\\d+)`).exec(header)?.[1]))
    expect([WARNING_AT, PASSIVE_AT, BUS_OFF_AT]).toEqual(theirs)
  })
})
