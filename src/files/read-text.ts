/** Reads a file that people have written. */
import { readdirSync, readFileSync, statSync } from 'node:fs'
import { basename, dirname } from 'node:path'
import { DrystrokeError } from '../errors.js'
import { didYouMean, nearest } from './nearest.js'

const MOST_BYTES = 1_000_000

/**
 * @param form that the text has, for messages
 * @throws DrystrokeError `file-access` or `file-invalid`
 */
export function readText(path: string, form: 'YAML' | 'XML' = 'YAML'): string {
  let bytes: Uint8Array
  try {
    const { size } = statSync(path)
    if (size > MOST_BYTES) {
      const text = `${path}:1:1: found ${size} bytes; expected at most 1 MB of ${form}; check that this is the file that was meant`
      throw new DrystrokeError('file-invalid', text, { file: path })
    }
    bytes = readFileSync(path)
  } catch (cause) {
    if (cause instanceof DrystrokeError) throw cause
    const reason = cause instanceof Error && 'code' in cause ? String(cause.code) : String(cause)
    const advice = didYouMean(neighbour(path)) || 'check the path'
    const text = `${path}: found nothing that can be read (${reason}); expected a file in ${form}; ${advice}`
    throw new DrystrokeError('file-access', text, { file: path }, cause)
  }
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes)
  } catch (cause) {
    const text = `${path}:1:1: found bytes that are not UTF-8; expected text in ${form}; check that this is the file that was meant`
    throw new DrystrokeError('file-invalid', text, { file: path }, cause)
  }
}

/** A file of the same folder with nearly the same name. */
export function neighbour(path: string): string | undefined {
  try {
    return nearest(basename(path), readdirSync(dirname(path)))
  } catch {
    return undefined
  }
}
