/** The processes that another one started (Linux: proc(5)). */
import { readFileSync } from 'node:fs'

/**
 * @param {number | undefined} pid
 * @returns {number[]} of a process's first thread
 */
export function childrenOf(pid) {
  return readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8').split(' ').filter(Boolean).map(Number)
}

/**
 * @param {number} pid
 * @returns {string} program and arguments
 */
export const commandOf = (pid) => readFileSync(`/proc/${pid}/cmdline`, 'utf8').replaceAll('\0', ' ')

/**
 * The one child of a process's first thread. A signal to 0 would go to the tests themselves, and one that freezes would keep them
 * for good: no child is an error.
 * @param {number | undefined} pid
 * @returns {number}
 * @throws when it has none, or more
 */
export function onlyChildOf(pid) {
  const children = childrenOf(pid)
  if (children.length !== 1) throw new Error(`process ${pid} has ${children.length} children, not one`)
  return children[0]
}
