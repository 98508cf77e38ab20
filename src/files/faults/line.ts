/** Faults of one drive's messages and of its node. */
import type { FaultKind } from './kind.js'

const OF_FEEDBACK = { above: '0 %', max: '100 %' } as const

export const LINE_FAULTS = {
  silent: { target: 'joint', says: 'The drive sends nothing any more' },
  dropped: {
    target: 'joint',
    says: 'Frames of the drive are lost',
    amount: { key: 'share', quantity: 'share', about: 'of its frames', range: OF_FEEDBACK, example: '20 %' },
  },
  late: {
    target: 'joint',
    says: 'Frames of the drive come late',
    amount: {
      key: 'delay',
      quantity: 'time',
      about: 'by which they come late',
      range: { above: '0 s', max: '10 s' },
      example: '15 ms',
    },
  },
  doubled: {
    target: 'joint',
    says: 'Feedback frames of the drive come twice',
    amount: {
      key: 'share',
      quantity: 'share',
      about: 'of its feedback frames',
      range: OF_FEEDBACK,
      example: '20 %',
    },
  },
  overtaken: {
    target: 'joint',
    says: 'Feedback frames of the drive come only right after the next one',
    amount: {
      key: 'share',
      quantity: 'share',
      about: 'of its feedback frames',
      range: OF_FEEDBACK,
      example: '20 %',
    },
  },
  stale: { target: 'joint', says: 'Feedback frames of the drive go on, every one like the last' },
  'feedback-lost': {
    target: 'joint',
    says: 'The drive is there and answers, but none of its feedback comes',
  },
  'heartbeat-lost': {
    target: 'joint',
    says: 'The heartbeat of the drive ceases; all else goes on',
    only: 'cia402',
  },
  unanswered: {
    target: 'joint',
    says: 'The drive answers nothing that it is asked by SDO',
    only: 'cia402',
  },
  twin: {
    target: 'joint',
    says: 'A second node with the same number boots on the bus and sends heartbeats and feedback too',
    amount: {
      key: 'angle',
      quantity: 'angle',
      about: "between what the second node's feedback says and the joint's",
      range: { min: '-360 deg', max: '360 deg' },
      example: '5 deg',
    },
  },
  emergencies: {
    target: 'joint',
    says: 'The drive sends emergency messages without end, with code 1000h',
    amount: {
      key: 'rate',
      quantity: 'frequency',
      about: 'of the messages',
      range: { min: '0.1 Hz', max: '5 kHz' },
      example: '100 Hz',
    },
    only: 'cia402',
  },
  unpowered: {
    target: 'joint',
    says: 'The drive has no power; when it is over it boots, its set-up is lost',
  },
  'brown-out': {
    target: 'joint',
    says: 'The power of the drive fails for a moment: it boots by itself, its set-up is lost',
    amount: {
      key: 'time',
      quantity: 'time',
      about: 'without power',
      range: { above: '0 s', max: '10 s' },
      example: '30 ms',
    },
    forGood: true,
  },
} as const satisfies Record<string, FaultKind>
