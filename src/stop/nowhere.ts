/** A bus that leads nowhere, in the place of one that cannot be had: a stop goes on with the others. */
import type { Bus } from '../bus/contract.js'

/** @param answer `sent`: it takes every frame */
export function nowhere(name: string, answer: 'sent' | 'no such interface'): Bus {
  return {
    name,
    state: answer === 'sent' ? 'active' : 'gone',
    waiting: 0,
    send: () => answer,
    withdraw: () => 0,
    onFrame: () => {},
    only: () => {},
    onReport: () => {},
    close: () => {},
  }
}
